-- figure: soak_hours
-- title:  Hours outside before plug-in
-- unit:   h
-- better: neither
-- procedure: cold-charge, cabin-warmup, cold-drive, standby
-- reads:  session(session_id, procedure), soak(session_id, from_s, to_s, u_s)
-- method: definition is ours
--
-- From the moment the car was left outside, as session.toml or a note states it,
-- to the plug-in (or the start, where nothing is plugged in). It says nothing of
-- how cold it was. There is no value where nothing says when the soak began.

select
    s.session_id,
    (k.to_s - k.from_s) / 3600 as value,
    case when k.from_s is not null then k.u_s / 3600 end as uncertainty,
    k.from_s,
    k.to_s,
    case when k.from_s is null then 'none' else 'measured' end as status,
    case when k.from_s is null then 'nothing says when the soak began' end as note
from session s left join soak k using (session_id)
where s.procedure in ('cold-charge', 'cabin-warmup', 'cold-drive', 'standby')
order by s.session_id
