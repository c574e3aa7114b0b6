-- figure: thermometer_disagreement
-- title:  Thermometers apart at plug-in
-- unit:   K
-- better: lower
-- procedure: cold-charge, warm-charge, cabin-warmup, cold-drive, warm-drive, standby
-- reads:  session(session_id, procedure), air_at(session_id, instrument, t_s, c, u_c)
-- method: definition is ours
--
-- The largest difference between two instruments (weather station, thermometer beside
-- the car, the car's own sensor) that show the air at the plug-in (view air_at).
-- Two thermometers that differ by more than their uncertainty are not in the same
-- air, or one is wrong: a station may stand kilometres away. Uncertainty: of the
-- two, root of the sum of squares. There is no value with fewer than two.

with

spread as (
    select
        session_id, max(c) - min(c) as k, count(*) as n,
        sqrt(arg_max(u_c, (c, instrument)) ** 2 + arg_min(u_c, (c, instrument)) ** 2) as u_k,
        arg_max(instrument, (c, instrument)) as warmest, arg_min(instrument, (c, instrument)) as coldest,
        min(t_s) as from_s, max(t_s) as to_s
    from air_at
    group by session_id
)

select
    s.session_id,
    case when p.n >= 2 then p.k end as value,
    case when p.n >= 2 then p.u_k end as uncertainty,
    p.from_s,
    p.to_s,
    case when p.n >= 2 then 'measured' else 'none' end as status,
    case
        when coalesce(p.n, 0) < 2 then 'fewer than two thermometers have a value near the plug-in'
        when p.k > 0 then format('{} above {}', p.warmest, p.coldest)
    end as note
from session s left join spread p using (session_id)
where s.procedure in ('cold-charge', 'warm-charge', 'cabin-warmup', 'cold-drive', 'warm-drive', 'standby')
order by s.session_id
