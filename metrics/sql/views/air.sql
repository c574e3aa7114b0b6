-- view:   air
-- title:  Outside air by each instrument
-- reads:  reading(session_id, source_id, line, t_s, t_us, ambient_station_c, ambient_handheld_c, ambient_car_c),
--         source(source_id, offset_u_s), instrument(source_id, channel, resolution, u_abs)
--
-- preference orders the instruments: a weather station, a thermometer beside
-- the car, the car's own sensor, which its own warmth misleads (common practice,
-- no source). hold_s is how long a value may stand for the present: an hourly
-- observation 90 min, a thermometer an hour, the car's sensor 15 min (ours).
-- Of rows that show what both rows beside them show, only the first of each minute is
-- here, and those beside a gap of more than 60 s.

with

told as (
    select session_id, source_id, line, t_s, t_us, 'station' as instrument, 'ambient_station_c' as channel, 1 as preference, 5400 as hold_s, ambient_station_c as c
    from reading where ambient_station_c is not null
    union all
    select session_id, source_id, line, t_s, t_us, 'handheld', 'ambient_handheld_c', 2, 3600, ambient_handheld_c
    from reading where ambient_handheld_c is not null
    union all
    select session_id, source_id, line, t_s, t_us, 'car', 'ambient_car_c', 3, 900, ambient_car_c
    from reading where ambient_car_c is not null
),

beside as (
    select
        *,
        source_id = lag(source_id) over () and preference = lag(preference) over () as follows,
        source_id = lead(source_id) over () and preference = lead(preference) over () as leads,
        lag(t_us) over () as before_us,
        lead(t_us) over () as next_us,
        lag(c) over () as before_c,
        lead(c) over () as next_c
    from told
    where t_s is not null
)

select
    l.session_id, l.source_id, l.line, l.t_s, l.instrument, l.preference, l.hold_s, l.c,
    sqrt(coalesce(i.u_abs, 0.5) ** 2 + coalesce(i.resolution, 0) ** 2 / 12) as u_c
from beside l
left join instrument i on l.source_id = i.source_id and l.channel = i.channel
where not coalesce(l.follows and l.leads, false)
    or l.c <> l.before_c or l.c <> l.next_c or l.t_us - l.before_us > 60000000 or l.next_us - l.t_us > 60000000 or floor(l.t_us / 60e6) <> floor(l.before_us / 60e6)
