-- figure: precipitation_spells
-- title:  Snow, rain or frost on the car in the soak
-- unit:   1
-- better: lower
-- procedure: cold-charge, cabin-warmup, cold-drive, standby
-- reads:  session(session_id, procedure), soak(session_id, from_s, to_s), event(session_id, kind, t_s)
-- method: 40 CFR 1066.710(a)(3), as precedent for asking
--
-- How often notes or weather reports told of precipitation between the start of the
-- soak and the plug-in: snow on a car insulates it, frost in a socket holds a latch.
-- What nobody reported is not counted, so a count of nothing is as good as the reports
-- are. There is no value where nothing says when the soak began.

select
    s.session_id,
    case when any_value(k.from_s) is not null then count(e.t_s) end as value,
    case when any_value(k.from_s) is not null then 0 end as uncertainty,
    any_value(k.from_s) as from_s,
    any_value(k.to_s) as to_s,
    case when any_value(k.from_s) is not null then 'measured' else 'none' end as status,
    case when any_value(k.from_s) is null then 'nothing says when the soak began' end as note
from session s
left join soak k using (session_id)
left join event e on s.session_id = e.session_id and e.kind = 'precipitation' and e.t_s >= k.from_s and e.t_s <= k.to_s
where s.procedure in ('cold-charge', 'cabin-warmup', 'cold-drive', 'standby')
group by s.session_id
order by s.session_id
