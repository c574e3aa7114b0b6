-- figure: cabin_at_start
-- title:  Cabin when the heat was switched on
-- unit:   °C
-- better: neither
-- procedure: cabin-warmup
-- reads:  session(session_id, procedure), warmup(session_id, start_s, start_c, u_c, step_c, noted)
-- method: definition is ours
--
-- The cabin's air at the probe, the last row before the start, else the first within
-- 120 s after it (view warmup). Uncertainty: the thermometer and its last digit. There
-- is no value where the probe has no row near the start.

select
    s.session_id,
    w.start_c as value,
    case when w.start_c is not null then sqrt(w.u_c ** 2 + w.step_c ** 2 / 12) end as uncertainty,
    w.start_s as from_s,
    w.start_s as to_s,
    case when w.start_c is null then 'none' when w.noted then 'fallback' else 'measured' end as status,
    case
        when w.session_id is null then 'the cabin''s temperature was not logged'
        when w.start_c is null then 'no temperature of the cabin near the start'
        when w.noted then 'from notes'
    end as note
from session s
left join warmup w using (session_id)
where s.procedure = 'cabin-warmup'
order by s.session_id
