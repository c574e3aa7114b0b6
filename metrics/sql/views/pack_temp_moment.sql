-- view:   pack_temp_moment
-- title:  Pack temperatures whose coldest and hottest stand in rows of their own
-- reads:  reading(session_id, source_id, line, t_s, pack_temp_min_c, pack_temp_max_c, pack_temp_mean_c), pack_temp_source(source_id, apart)
--
-- Rows of one moment count as one, and a missing value is that of at most 60 s before
-- (40 CFR 1066.710 asks for a row at least that often).

with

moment as (
    select
        r.session_id, r.source_id, min(r.line) as line, r.t_s,
        min(r.pack_temp_min_c) as min_c, max(r.pack_temp_max_c) as max_c, avg(r.pack_temp_mean_c) as mean_c
    from reading r join pack_temp_source h on r.source_id = h.source_id and h.apart
    where coalesce(r.pack_temp_min_c, r.pack_temp_max_c, r.pack_temp_mean_c) is not null and r.t_s >= -600
    group by r.session_id, r.source_id, r.t_s
)

select
    session_id, source_id, line, t_s,
    last_value(min_c ignore nulls) over w as min_c,
    last_value(max_c ignore nulls) over w as max_c,
    last_value(mean_c ignore nulls) over w as mean_c
from moment
window w as (partition by session_id order by t_s range between 60 preceding and current row)
