-- view:   at_plug_in
-- title:  Air, pack and charge at the plug-in
-- reads:  plug_in(session_id, t_s, t_us), air_at(session_id, t_s, preference, instrument, c, u_c),
--         reading(session_id, source_id, line, t_s, t_us, pack_temp_min_c, pack_temp_mean_c),
--         instrument(source_id, channel, resolution, u_abs), charge_level(session_id, t_s, line, soc_pct, step_pct, told)
--
-- Each is the last value before the plug-in, if it is not older than it may be
-- (air: its instrument's hold; pack 120 s, charge 600 s: the channels' hold);
-- else the first value after it, within 120 s. Air comes from the most preferred
-- instrument that has one. The coldest pack sensor stands for the pack, else the
-- mean of the sensors. A note may show all of them in the minute of the plug-in.

with

first_air as (
    select session_id, t_s, instrument, c, u_c from air_at qualify row_number() over (partition by session_id order by preference) = 1
),

pack as (
    select r.session_id, r.source_id, r.t_s, r.t_us, r.line, 'coldest sensor' as sensor, 1 as preference, r.pack_temp_min_c as c, i.resolution, i.u_abs
    from reading r left join instrument i on r.source_id = i.source_id and i.channel = 'pack_temp_min_c'
    where r.pack_temp_min_c is not null
    union all
    select r.session_id, r.source_id, r.t_s, r.t_us, r.line, 'mean of the sensors', 2, r.pack_temp_mean_c, i.resolution, i.u_abs
    from reading r left join instrument i on r.source_id = i.source_id and i.channel = 'pack_temp_mean_c'
    where r.pack_temp_mean_c is not null
),

pack_at as (
    select k.session_id, k.t_s, k.sensor, k.c, sqrt(coalesce(k.u_abs, 0.5) ** 2 + coalesce(k.resolution, 0) ** 2 / 12) as u_c
    from pack k join plug_in p using (session_id)
    where k.t_us between p.t_us - 120000000 and p.t_us + 120000000
    qualify row_number() over (partition by k.session_id order by k.preference, k.t_s > p.t_s, abs(k.t_s - p.t_s), k.line, k.source_id) = 1
),

charge_at as (
    select c.session_id, c.t_s, c.soc_pct, c.step_pct / sqrt(12) as u_pct, c.told
    from charge_level c join plug_in p using (session_id)
    where c.t_s between p.t_s - 600 and p.t_s + 120
    qualify row_number() over (partition by c.session_id order by c.t_s > p.t_s, abs(c.t_s - p.t_s), c.line) = 1
)

select
    p.session_id, p.t_s as plug_s,
    a.t_s as air_s, a.instrument as air_from, a.c as air_c, a.u_c as air_u_c,
    k.t_s as pack_s, k.sensor as pack_from, k.c as pack_c, k.u_c as pack_u_c,
    c.t_s as soc_s, c.soc_pct, c.u_pct as soc_u_pct, c.told as soc_told
from plug_in p
left join first_air a using (session_id)
left join pack_at k using (session_id)
left join charge_at c using (session_id)
order by p.session_id
