-- view:   pack_temp
-- title:  Pack temperatures, coldest, hottest and mean, by the source that has most
-- reads:  reading(session_id, source_id, line, t_s, pack_temp_min_c, pack_temp_max_c, pack_temp_mean_c),
--         instrument(source_id, channel, resolution, u_abs), offer(session_id, source_id, quantity, noted, rows_held, enough)
--
-- One source a session, one that logs enough of the charge (view offer); notes
-- only where there is no log. Where coldest and hottest stand in rows of their own,
-- as on a bus or in a log with a row a value, those of one moment count as one, and
-- a missing one is that of at most 60 s before (40 CFR 1066.710 asks for a row at
-- least that often). Where no mean is logged, mean_c is the middle of
-- the coldest and the hottest sensor; where one of them is missing, the other,
-- and mean_is says so.

with

chosen as (
    select *
    from offer
    where quantity = 'pack_temp'
    qualify row_number() over (partition by session_id order by noted, not enough, rows_held desc, source_id) = 1
),

taken as (
    select r.session_id, r.source_id, r.line, r.t_s, r.pack_temp_min_c, r.pack_temp_max_c, r.pack_temp_mean_c
    from reading r join chosen h on r.session_id = h.session_id and r.source_id = h.source_id
    where coalesce(r.pack_temp_min_c, r.pack_temp_max_c, r.pack_temp_mean_c) is not null and r.t_s >= -600
),

apart as (
    select source_id
    from taken
    group by source_id
    having least(count(pack_temp_min_c), count(pack_temp_max_c)) > 2 * count(pack_temp_min_c + pack_temp_max_c)
),

moment as (
    select
        session_id, source_id, min(line) as line, t_s,
        min(pack_temp_min_c) as pack_temp_min_c, max(pack_temp_max_c) as pack_temp_max_c, avg(pack_temp_mean_c) as pack_temp_mean_c
    from taken semi join apart using (source_id)
    group by session_id, source_id, t_s
),

logged as (
    select * from taken anti join apart using (source_id)
    union all
    select
        session_id, source_id, line, t_s,
        last_value(pack_temp_min_c ignore nulls) over w as pack_temp_min_c,
        last_value(pack_temp_max_c ignore nulls) over w as pack_temp_max_c,
        last_value(pack_temp_mean_c ignore nulls) over w as pack_temp_mean_c
    from moment
    window w as (partition by session_id order by t_s range between 60 preceding and current row)
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
from logged r
join chosen h on r.session_id = h.session_id and r.source_id = h.source_id
left join accuracy a on r.source_id = a.source_id
