-- view:   pack_temp
-- title:  Pack temperatures, coldest, hottest and mean, by the source that has most
-- made:   in place
-- reads:  reading(session_id, source_id, line, t_s, t_us, pack_temp_min_c, pack_temp_max_c, pack_temp_mean_c),
--         pack_temp_source(source_id, noted, apart, u_c, u_step_c), pack_temp_moment(session_id, source_id, line, t_s, min_c, max_c, mean_c)
--
-- The rows of the source that the view pack_temp_source names; where coldest and hottest
-- stand in rows of their own, the view pack_temp_moment. Where no mean is logged, mean_c is
-- the middle of the coldest and the hottest sensor; where one of them is missing, the other,
-- and mean_is says so. t_us is t_s in whole microseconds.

with

logged as (
    select session_id, source_id, line, t_s, t_us, pack_temp_min_c as min_c, pack_temp_max_c as max_c, pack_temp_mean_c as mean_c, false as apart
    from reading
    where coalesce(pack_temp_min_c, pack_temp_max_c, pack_temp_mean_c) is not null and t_s >= -600
    union all
    select session_id, source_id, line, t_s, (t_s * 1000000)::bigint, min_c, max_c, mean_c, true from pack_temp_moment
)

select
    r.session_id, r.source_id, r.line, r.t_s, r.t_us, r.min_c, r.max_c,
    coalesce(r.mean_c, (r.min_c + r.max_c) / 2, r.min_c, r.max_c) as mean_c,
    case
        when r.mean_c is not null then 'mean of the sensors'
        when r.min_c is not null and r.max_c is not null then 'middle of coldest and hottest'
        else 'one sensor'
    end as mean_is,
    h.noted, h.u_c, h.u_step_c
from logged r
join pack_temp_source h on r.source_id = h.source_id and r.apart = h.apart
