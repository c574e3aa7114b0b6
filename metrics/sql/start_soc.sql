-- figure: start_soc
-- title:  Displayed charge at plug-in
-- unit:   %
-- better: neither
-- procedure: cold-charge, warm-charge, cabin-warmup, cold-drive, warm-drive, standby
-- reads:  session(session_id, procedure), at_plug_in(session_id, plug_s, soc_s, soc_pct, soc_u_pct, soc_told)
-- method: definition is ours
--
-- What the display showed when the car was plugged in (or the test began): the last
-- value before, not older than 600 s, else the first within 120 s after.
-- Uncertainty: one step of the display, rectangular (JCGM 100, 4.3.7). There is no
-- value where the display was not logged or noted.

select
    s.session_id,
    a.soc_pct as value,
    a.soc_u_pct as uncertainty,
    least(a.soc_s, a.plug_s) as from_s,
    greatest(a.soc_s, a.plug_s) as to_s,
    case when a.soc_pct is null then 'none' when a.soc_told is not null then 'fallback' else 'measured' end as status,
    case when a.soc_pct is null then 'no displayed charge near the plug-in' else a.soc_told end as note
from session s left join at_plug_in a using (session_id)
where s.procedure in ('cold-charge', 'warm-charge', 'cabin-warmup', 'cold-drive', 'warm-drive', 'standby')
order by s.session_id
