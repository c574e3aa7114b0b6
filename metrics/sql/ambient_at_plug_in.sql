-- figure: ambient_at_plug_in
-- title:  Air at plug-in
-- unit:   °C
-- better: neither
-- procedure: cold-charge, warm-charge, cabin-warmup, cold-drive, warm-drive, standby
-- reads:  session(session_id, procedure), at_plug_in(session_id, plug_s, air_s, air_from, air_c, air_u_c)
-- method: definition is ours
--
-- The air when the car was plugged in (or the test began), by a weather station,
-- else a thermometer beside the car, else the car's own sensor, which its own
-- warmth misleads: a fallback. The value is the last one before that moment, not
-- older than the instrument's hold (view air), else the first within 120 s after.
-- There is no value where no instrument has one.

select
    s.session_id,
    a.air_c as value,
    a.air_u_c as uncertainty,
    least(a.air_s, a.plug_s) as from_s,
    greatest(a.air_s, a.plug_s) as to_s,
    case when a.air_c is null then 'none' when a.air_from = 'car' then 'fallback' else 'measured' end as status,
    case when a.air_c is null then 'no thermometer has a value near the plug-in' else a.air_from end as note
from session s left join at_plug_in a using (session_id)
where s.procedure in ('cold-charge', 'warm-charge', 'cabin-warmup', 'cold-drive', 'warm-drive', 'standby')
order by s.session_id
