-- view:   warmup
-- title:  How the cabin got warm
-- reads:  session(session_id, procedure, zero_u_s), source(source_id, kind, offset_u_s), protocol(cabin_target_c),
--         reading(session_id, source_id, line, t_s, cabin_temp_c), instrument(source_id, channel, resolution, u_abs)
--
-- A row for each session of the procedure cabin-warmup whose cabin was measured, by
-- one probe: the source with the most rows, notes only where there is no log.
-- start_c is the last row before the start, not older than 120 s (the channel's
-- hold), else the first within 120 s after it.
-- The target is reached at the first row from which it and the two after it show the
-- target or more: a single leap is the logger's. Between that row and the one before
-- the temperature goes in a line. Thermometers are taken to round, so when the target
-- is first shown the cabin is half a step short of it, and the rate there tells how
-- long that is; that some cut is in the last digit's uncertainty (ours). rate_k_s is the slope of a line through the rows of five
-- minutes around, at least 0.02 K a minute (ours).
-- u_s combines, as in JCGM 100, 5.1.2, the width of the pair of rows (rectangular),
-- the zero of the clock, the source's clock, and the thermometer over the rate;
-- width_u_s is all but the thermometer.
-- status: reached; beyond, where the log ends before; warm, where the log begins at
-- the target or above.

with

told as (
    select r.session_id, r.source_id, s.kind = 'notes' as noted, s.offset_u_s, count(*) as n
    from reading r join source s using (source_id) join session x on r.session_id = x.session_id
    where r.cabin_temp_c is not null and r.t_s >= -600 and x.procedure = 'cabin-warmup'
    group by all
),

chosen as (
    select t.*, coalesce(i.u_abs, 1) as u_c, coalesce(i.resolution, 0) as step_c
    from (from told qualify row_number() over (partition by session_id order by noted, n desc, source_id) = 1) t
    left join instrument i on t.source_id = i.source_id and i.channel = 'cabin_temp_c'
),

probed as (
    select
        r.session_id, r.line, r.t_s, r.cabin_temp_c as c,
        lag(r.t_s) over w as before_s,
        lag(r.cabin_temp_c) over w as before_c,
        min(r.cabin_temp_c) over (partition by r.session_id order by r.t_s, r.line rows between current row and 2 following) as held_c
    from reading r join chosen h on r.session_id = h.session_id and r.source_id = h.source_id
    where r.cabin_temp_c is not null and r.t_s >= -600
    window w as (partition by r.session_id order by r.t_s, r.line)
),

starts as (
    select session_id, t_s, c
    from probed
    where t_s between -120 and 120
    qualify row_number() over (partition by session_id order by t_s > 0, abs(t_s), line) = 1
),

firsts as (
    select p.session_id, p.t_s, p.c, p.before_s, p.before_c
    from probed p cross join protocol l
    where p.t_s >= 0 and p.held_c >= l.cabin_target_c
    qualify row_number() over (partition by p.session_id order by p.t_s, p.line) = 1
),

rates as (
    select f.session_id, regr_slope(p.c, p.t_s) as k_s
    from firsts f join probed p on f.session_id = p.session_id and p.t_s between f.t_s - 150 and f.t_s + 150
    group by f.session_id
),

lasts as (
    select session_id, max(t_s) as t_s from probed group by session_id
),

judged as (
    select
        h.session_id, h.source_id, h.noted, h.u_c, h.step_c, s.t_s as start_s, s.c as start_c, k.t_s as last_s, t.cabin_target_c as target_c,
        greatest(f.before_s, 0) as from_s, f.t_s as to_s, h.offset_u_s, x.zero_u_s,
        case when f.session_id is null then 'beyond' when f.before_c is null or f.before_c >= t.cabin_target_c then 'warm' else 'reached' end as status,
        f.before_s + (t.cabin_target_c - f.before_c) / nullif(f.c - f.before_c, 0) * (f.t_s - f.before_s) as crossed_s,
        greatest(coalesce(r.k_s, (f.c - f.before_c) / nullif(f.t_s - f.before_s, 0), 0), 0.02 / 60) as rate_k_s
    from chosen h
    cross join protocol t
    join session x on h.session_id = x.session_id
    left join starts s on h.session_id = s.session_id
    left join firsts f on h.session_id = f.session_id
    left join rates r on h.session_id = r.session_id
    left join lasts k on h.session_id = k.session_id
)

select
    session_id, source_id, noted, status, start_s, start_c, u_c, step_c, target_c, last_s,
    case when status = 'reached' then from_s end as from_s,
    case when status = 'reached' then to_s end as to_s,
    case when status = 'reached' then greatest(crossed_s, 0) + step_c / 2 / rate_k_s end as target_s,
    case when status = 'reached' then rate_k_s end as rate_k_s,
    sqrt((to_s - from_s) ** 2 / 12 + zero_u_s ** 2 + offset_u_s ** 2) as width_u_s,
    sqrt((to_s - from_s) ** 2 / 12 + zero_u_s ** 2 + offset_u_s ** 2 + (u_c ** 2 + step_c ** 2 / 12) / rate_k_s ** 2) as u_s
from judged
order by session_id
