-- view:   trip
-- title:  How far and for how long the car was driven
-- reads:  session(session_id, procedure, zero_u_s), reading(session_id, source_id, line, t_s, speed_km_h, odometer_km),
--         source(source_id, kind, offset_u_s), instrument(source_id, channel, resolution, u_rel),
--         event(session_id, kind, t_s, width_s), power(session_id, t_s)
--
-- A row for each drive, cold or warm. It begins at the zero of the session's clock:
-- what the car takes while it stands and is warmed counts. It ends with the last pair
-- of rows in which the car moves, 1 km/h or more; where the speed was not logged, or its
-- log ends on the way, at the last noted arrival; else at the last row of power or odometer.
-- Distance by two ways, each from the source with the most rows, notes only where
-- there is no log; the one that is known closer counts.
-- speed: trapezoids over its rows. Rows further apart than 10 s (the channel's hold;
-- of a log whose own mean interval is longer, one and a half of it, up to 60 s) are not
-- joined: the mean of the rest stands for the gap, with half of it as uncertainty
-- (ours); where gaps are more than a quarter there is none. Uncertainty: the instrument, and the sampling as in view used.
-- odometer: last row less the first, from the start to the end; the last digit counts
-- at each end.

with

drives as (
    select session_id, zero_u_s from session where procedure in ('cold-drive', 'warm-drive')
),

told as (
    select
        r.session_id, r.source_id, s.kind = 'notes' as noted, s.offset_u_s,
        count(r.speed_km_h) as speeds, count(r.odometer_km) as odometers,
        (max(case when r.speed_km_h is not null then r.t_s end) - min(case when r.speed_km_h is not null then r.t_s end)) / nullif(count(r.speed_km_h) - 1, 0) as interval_s
    from reading r join drives d on r.session_id = d.session_id join source s on r.source_id = s.source_id
    where coalesce(r.speed_km_h, r.odometer_km) is not null and r.t_s >= -600
    group by all
),

by_speed as (
    select t.*, coalesce(i.u_rel, 0.01) as u_rel, greatest(10, least(60, 1.5 * t.interval_s)) as hold_s
    from (from told where speeds >= 2 qualify row_number() over (partition by session_id order by noted, speeds desc, source_id) = 1) t
    left join instrument i on t.source_id = i.source_id and i.channel = 'speed_km_h'
),

by_odometer as (
    select t.*, coalesce(i.resolution, 1) as step_km
    from (from told where odometers >= 2 qualify row_number() over (partition by session_id order by noted, odometers desc, source_id) = 1) t
    left join instrument i on t.source_id = i.source_id and i.channel = 'odometer_km'
),

speeds as (
    select r.session_id, r.line, r.t_s, r.speed_km_h as km_h, h.hold_s
    from reading r join by_speed h on r.session_id = h.session_id and r.source_id = h.source_id
    where r.speed_km_h is not null and r.t_s >= -600
),

pairs as (
    select
        session_id, hold_s, lag(t_s) over w as t0, t_s as t1, lag(km_h) over w as a, km_h as b,
        lead(t_s) over w as t2,
        lead(km_h) over w as c
    from speeds
    window w as (partition by session_id order by t_s, line)
),

moving as (
    -- It stops within the pair, unless it still moves at the log's end.
    select session_id, max(case when b >= 1 then t1 else (t0 + t1) / 2 end) as t_s, arg_max(t1 - t0, t1) as width_s,
        max(case when b >= 1 then t1 end) = max(t1) and max(t1) = any_value(log_end_s) as still_moves
    from (select *, max(t1) over (partition by session_id) as log_end_s from pairs)
    where greatest(a, b) >= 1
    group by session_id
),

arrivals as (
    select e.session_id, max(e.t_s) as t_s, arg_max(e.width_s, (e.t_s, e.width_s)) as width_s from event e where e.kind = 'drive-stop' and e.t_s > 0 group by e.session_id
),

lasts as (
    select session_id, max(t_s) as t_s
    from (
        select p.session_id, p.t_s from power p join drives d on p.session_id = d.session_id
        union all
        select r.session_id, r.t_s from reading r join drives d on r.session_id = d.session_id where r.odometer_km is not null
    )
    group by session_id
),

ends as (
    select
        d.session_id, d.zero_u_s,
        case when m.still_moves and a.t_s > m.t_s then a.t_s else coalesce(m.t_s, a.t_s, l.t_s) end as to_s,
        case when m.still_moves and a.t_s > m.t_s then a.width_s else coalesce(m.width_s, a.width_s, 0) end / sqrt(12) as to_u_s
    from drives d
    left join moving m on d.session_id = m.session_id
    left join arrivals a on d.session_id = a.session_id
    left join lasts l on d.session_id = l.session_id
),

summed as (
    select
        p.session_id,
        fsum(case when p.t1 - p.t0 <= p.hold_s then (p.a + p.b) / 2 * (p.t1 - p.t0) end) / 3600 as km,
        fsum(case when p.t1 - p.t0 <= p.hold_s then p.t1 - p.t0 end) as bridged_s,
        fsum(case when p.t1 - p.t0 <= p.hold_s then ((p.b - p.a) * (p.t1 - p.t0)) ** 2 end) / 3600 ** 2 as change_km2,
        fsum(case when p.t2 - p.t0 <= 2 * p.hold_s then (p.c - 2 * p.b + p.a) ** 2 end) / nullif(fsum(case when p.t2 - p.t0 <= 2 * p.hold_s then (p.b - p.a) ** 2 end), 0) as bend
    from pairs p join ends e using (session_id)
    where p.t0 >= 0 and p.t0 < e.to_s and p.t1 > p.t0
    group by p.session_id
),

rough as (
    select *, greatest(0.001, least(0.95, coalesce(3 - bend, 0.95))) as rho from summed
),

driven as (
    select
        r.session_id,
        r.km * greatest(1, e.to_s / r.bridged_s) as km,
        sqrt((h.u_rel * r.km) ** 2 + r.change_km2 * ((1 + r.rho) / (1 - r.rho) + 2 / ln(r.rho)) / (2 * (1 - r.rho)) + (r.km * greatest(0, e.to_s / r.bridged_s - 1) / 2) ** 2) as u_km,
        h.noted
    from rough r join ends e using (session_id) join by_speed h using (session_id)
    where r.bridged_s >= 0.75 * e.to_s
),

counted as (
    select
        r.session_id, max(r.odometer_km) - min(r.odometer_km) as km, any_value(h.step_km) / sqrt(6) as u_km, any_value(h.noted) as noted,
        min(r.t_s) as from_s, max(r.t_s) as last_s
    from reading r join by_odometer h on r.session_id = h.session_id and r.source_id = h.source_id join ends e on r.session_id = e.session_id
    where r.odometer_km is not null and r.t_s >= -600
    group by r.session_id
),

distances as (
    select session_id, 'speed over time' as basis_name, km, u_km, noted from driven
    union all
    -- A count that begins or ends on the way is not that of the drive.
    select c.session_id, 'odometer', c.km, c.u_km, c.noted from counted c join ends e using (session_id)
    where c.from_s <= 120 and c.last_s >= e.to_s - 120
),

chosen as (
    select * from distances qualify row_number() over (partition by session_id order by u_km, basis_name) = 1
)

select
    e.session_id, 0::double as from_s, e.zero_u_s as from_u_s, e.to_s, e.to_u_s,
    round(c.km, 9) as km, c.u_km, c.basis_name, c.noted,
    s.source_id as speed_source_id
from ends e
left join chosen c using (session_id)
left join by_speed s using (session_id)
where e.to_s > 0
order by e.session_id
