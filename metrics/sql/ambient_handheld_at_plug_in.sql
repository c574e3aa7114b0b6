-- figure: ambient_handheld_at_plug_in
-- title:  Air at plug-in by the thermometer beside the car
-- unit:   °C
-- better: neither
-- procedure: cold-charge, warm-charge, cabin-warmup, cold-drive, warm-drive, standby
-- reads:  session(session_id, procedure), air_at(session_id, instrument, t_s, c, u_c)
-- method: definition is ours
--
-- What this one instrument showed at the plug-in: its last value before it that is
-- not older than its hold, else its first within 120 s after (view air_at). The
-- figure ambient_at_plug_in takes the most trusted of all; thermometer_disagreement
-- tells how far they are apart. There is no value where it was not logged near the
-- plug-in. Uncertainty: the instrument and its last digit.

select
    s.session_id,
    a.c as value,
    a.u_c as uncertainty,
    a.t_s as from_s,
    a.t_s as to_s,
    case when a.c is null then 'none' else 'measured' end as status,
    case when a.c is null then 'not logged near the plug-in' end as note
from session s left join air_at a on s.session_id = a.session_id and a.instrument = 'handheld'
where s.procedure in ('cold-charge', 'warm-charge', 'cabin-warmup', 'cold-drive', 'warm-drive', 'standby')
order by s.session_id
