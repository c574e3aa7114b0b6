-- view:   pack_temp
-- title:  Pack temperatures, coldest, hottest and mean, by the source that has most
-- reads:  reading(session_id, source_id, line, t_s, pack_temp_min_c, pack_temp_max_c, pack_temp_mean_c),
--         source(source_id, kind), instrument(source_id, channel, resolution, u_abs)
--
-- One source a session, notes only where there is no log. Where no mean is
-- logged, mean_c is the middle of the coldest and the hottest sensor; where one
-- of them is missing, the other, and mean_is says so.

with

candidates as (
    select session_id, source_id, line, t_s, pack_temp_min_c as min_c, pack_temp_max_c as max_c, pack_temp_mean_c as logged_c
    from reading
    where coalesce(pack_temp_min_c, pack_temp_max_c, pack_temp_mean_c) is not null and t_s >= -600
),

counted as (
    select c.session_id, c.source_id, s.kind = 'notes' as noted, count(*) as rows_held
    from candidates c join source s using (source_id)
    group by all
),

chosen as (
    select distinct on (session_id) * from counted order by session_id, noted, rows_held desc, source_id
),

accuracy as (
    select source_id, sqrt(max(u_abs) ** 2 + max(coalesce(resolution, 0)) ** 2 / 12) as u_c, max(coalesce(resolution, 0)) / sqrt(12) as u_step_c
    from instrument
    where channel in ('pack_temp_min_c', 'pack_temp_max_c', 'pack_temp_mean_c')
    group by source_id
)

select
    c.session_id, c.source_id, c.line, c.t_s, c.min_c, c.max_c,
    coalesce(c.logged_c, (c.min_c + c.max_c) / 2, c.min_c, c.max_c) as mean_c,
    case when c.logged_c is not null then 'mean of the sensors' when c.min_c is not null and c.max_c is not null then 'middle of coldest and hottest' else 'one sensor' end as mean_is,
    h.noted,
    coalesce(a.u_c, 0.5) as u_c,
    coalesce(a.u_step_c, 0) as u_step_c
from candidates c
join chosen h on c.session_id = h.session_id and c.source_id = h.source_id
left join accuracy a on c.source_id = a.source_id
order by c.session_id, c.t_s, c.line
