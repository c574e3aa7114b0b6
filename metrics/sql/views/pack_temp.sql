-- view:   pack_temp
-- title:  Pack temperatures, coldest, hottest and mean, by the source that has most
-- reads:  reading(session_id, source_id, line, t_s, pack_temp_min_c, pack_temp_max_c, pack_temp_mean_c),
--         instrument(source_id, channel, resolution, u_abs), offer(session_id, source_id, quantity, noted, rows_held, enough)
--
-- One source a session, one that logs enough of the charge (view offer); notes
-- only where there is no log. Where no mean is logged, mean_c is the middle of
-- the coldest and the hottest sensor; where one of them is missing, the other,
-- and mean_is says so.

with

chosen as (
    select *
    from offer
    where quantity = 'pack_temp'
    qualify row_number() over (partition by session_id order by noted, not enough, rows_held desc, source_id) = 1
),

accuracy as (
    select source_id, sqrt(max(u_abs) ** 2 + max(coalesce(resolution, 0)) ** 2 / 12) as u_c, max(coalesce(resolution, 0)) / sqrt(12) as u_step_c
    from instrument
    where channel in ('pack_temp_min_c', 'pack_temp_max_c', 'pack_temp_mean_c')
    group by source_id
)

select
    r.session_id, r.source_id, r.line, r.t_s, r.pack_temp_min_c as min_c, r.pack_temp_max_c as max_c,
    coalesce(r.pack_temp_mean_c, (r.pack_temp_min_c + r.pack_temp_max_c) / 2, r.pack_temp_min_c, r.pack_temp_max_c) as mean_c,
    case
        when r.pack_temp_mean_c is not null then 'mean of the sensors'
        when r.pack_temp_min_c is not null and r.pack_temp_max_c is not null then 'middle of coldest and hottest'
        else 'one sensor'
    end as mean_is,
    h.noted,
    coalesce(a.u_c, 0.5) as u_c,
    coalesce(a.u_step_c, 0) as u_step_c
from reading r
join chosen h on r.session_id = h.session_id and r.source_id = h.source_id
left join accuracy a on r.source_id = a.source_id
where coalesce(r.pack_temp_min_c, r.pack_temp_max_c, r.pack_temp_mean_c) is not null and r.t_s >= -600
