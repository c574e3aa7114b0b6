-- view:   unplugged
-- title:  When the cable was pulled after the charge
-- reads:  session(session_id, procedure), power_run(session_id, t_s, charging, bridged, run_end_s, dropout), protocol(onset_sustained_s),
--         reading(session_id, source_id, t_s, t_us, speed_km_h, pack_voltage_v, pack_current_a, pack_power_kw), event(session_id, kind, t_s, width_s),
--         charge_level(session_id, t_s, line, held_pct)
--
-- A row for each charge of which it is known: what the pack and the heaters give and get
-- from then on is not the charge's, however long the logger is left running. It is when
-- somebody noted it or a charger told of it; else when the log shows the car drive off: two
-- rows of a source, so that a single one that is off decides nothing, with more than 3 km/h,
-- or with more than 20 kW out of the pack, which no heater takes; or it was noted to set off.
-- All that counts is what comes after the last run of charge that lasts onset_sustained_s
-- (view power_run), to the row after it. Going downhill is none: the car moves in more
-- than half of its rows that tell, for a receiver of a car that stands errs now and then, or a run
-- is shorter than 10 min, and the car was noted as unplugged before it, gave those 20 kW since, and was not
-- plugged in again. Where all runs are such, its speed tells nothing. Nor does what the pack
-- gives where the display goes on to gain 2 %: the current's sign is turned round then, and
-- what looks like a drive is the charge. The limits are ours.
-- t_us is t_s in whole microseconds.

with

speeds as materialized (
    select session_id, source_id, t_s, t_us, speed_km_h > 3 as moving from reading where speed_km_h is not null and t_s >= 0
),

giving as materialized (
    select session_id, source_id, t_us from reading where t_s >= 0 and (pack_voltage_v * pack_current_a < -20000 or pack_power_kw < -20)
),

runs as (
    select session_id, t_s, charging, run_end_s, case when lead(bridged) over w then lead(t_s) over w else run_end_s end as next_s
    from power_run
    where not dropout
    window w as (partition by session_id order by t_s)
),

charges as materialized (
    select r.session_id, r.t_s, r.run_end_s, r.next_s
    from runs r join session s using (session_id) cross join protocol p
    where s.procedure in ('cold-charge', 'warm-charge') and r.charging and r.run_end_s - r.t_s >= p.onset_sustained_s
),

rides as (
    select c.session_id, c.t_s
    from charges c join speeds v on c.session_id = v.session_id and v.t_s between c.t_s and c.run_end_s
    group by c.session_id, c.t_s, v.source_id
    having 2 * count(*) filter (where v.moving) > count(*)
),

-- From the second row on with which the pack gave after it was noted as unplugged.
left_behind as (
    select n.session_id, n.t_s, g.t_us / 1e6 as from_s
    from event n join giving g on n.session_id = g.session_id and g.t_us / 1e6 > n.t_s
    where n.kind = 'unplug'
    qualify row_number() over (partition by n.session_id, n.t_s, g.source_id order by g.t_us) = 2
),

driven as (
    select c.session_id, c.t_s
    from charges c
    join left_behind l on c.session_id = l.session_id and c.t_s > l.from_s
    left join event p on c.session_id = p.session_id and p.kind = 'plug-in' and p.t_s > l.t_s and p.t_s <= c.run_end_s
    where c.run_end_s - c.t_s < 600 and p.session_id is null
),

ended as (
    select
        session_id, max(run_end_s) as end_s, floor(max(run_end_s) * 1000000 + 0.25)::bigint as last_us, floor(max(next_s) * 1000000 + 0.25)::bigint as after_us,
        any_value(sound) as stood
    from (
        select *, bool_or(sound) over (partition by session_id) as known
        from (
            select c.*, r.session_id is null and d.session_id is null as sound
            from charges c
            left join (select distinct session_id, t_s from rides) r using (session_id, t_s)
            left join (select distinct session_id, t_s from driven) d using (session_id, t_s)
        )
    )
    where sound or not known
    group by session_id
),

gave as materialized (
    select g.* from giving g join ended e using (session_id) where g.t_us > e.last_us
),

gained as (
    select g.session_id
    from (select session_id, min(t_us) / 1e6 as t_s from gave group by session_id) g
    join charge_level c on g.session_id = c.session_id and c.t_s >= g.t_s
    group by g.session_id
    having max(c.held_pct) - arg_min(c.held_pct, (c.t_s, c.line)) >= 2
),

signs as (
    select v.session_id, v.source_id, v.t_us, 'moving' as sign from speeds v join ended e using (session_id) where v.moving and e.stood and v.t_us > e.last_us
    union all
    select g.session_id, g.source_id, g.t_us, 'giving' from gave g anti join gained d on g.session_id = d.session_id
),

told as (
    select session_id, min(t_us) as t_us from signs group by session_id, source_id, sign having count(*) > 1
    union all
    select n.session_id, floor(n.t_s * 1000000 + 0.25)::bigint from event n join ended e using (session_id) where n.kind = 'drive-start' and n.t_s > e.end_s
),

gone as (
    select session_id, min(t_us) as t_us from told group by session_id
),

pulled as (
    select n.session_id, min(greatest(floor(n.t_s * 1000000 + 0.25)::bigint, e.after_us + 1)) as t_us
    from event n join ended e using (session_id)
    where n.kind = 'unplug' and n.t_s + n.width_s / 2 > e.end_s
    group by n.session_id
)

select
    e.session_id, least(p.t_us, g.t_us) / 1e6 as t_s, least(p.t_us, g.t_us) as t_us,
    case when p.t_us <= coalesce(g.t_us, p.t_us) then 'it was unplugged' else 'the car drove off' end as told
from ended e left join gone g using (session_id) left join pulled p using (session_id)
where coalesce(p.t_us, g.t_us) is not null
order by e.session_id
