-- view:   pack_temp_source
-- title:  By which source the pack's temperatures are known
-- reads:  reading(source_id, t_s, pack_temp_min_c, pack_temp_max_c), instrument(source_id, channel, resolution, u_abs),
--         offer(session_id, source_id, quantity, noted, rows_held, enough)
--
-- One source a session, one that logs enough of the charge (view offer); notes
-- only where there is no log. apart: coldest and hottest stand in rows of their own, as on
-- a bus or in a log with a row a value.

with

chosen as (
    select *
    from offer
    where quantity = 'pack_temp'
    qualify row_number() over (partition by session_id order by noted, not enough, rows_held desc, source_id) = 1
),

counted as (
    select r.source_id, count(r.pack_temp_min_c) as low_rows, count(r.pack_temp_max_c) as high_rows, count(r.pack_temp_min_c + r.pack_temp_max_c) as both_rows
    from reading r join chosen h on r.source_id = h.source_id
    where r.t_s >= -600
    group by r.source_id
),

accuracy as (
    select source_id, sqrt(max(u_abs) ** 2 + max(coalesce(resolution, 0)) ** 2 / 12) as u_c, max(coalesce(resolution, 0)) / sqrt(12) as u_step_c
    from instrument
    where channel in ('pack_temp_min_c', 'pack_temp_max_c', 'pack_temp_mean_c')
    group by source_id
)

select
    h.session_id, h.source_id, h.noted, least(c.low_rows, c.high_rows) > 2 * c.both_rows as apart,
    coalesce(a.u_c, 0.5) as u_c, coalesce(a.u_step_c, 0) as u_step_c
from chosen h
join counted c on h.source_id = c.source_id
left join accuracy a on h.source_id = a.source_id
