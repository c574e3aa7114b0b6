-- view:   unplugged
-- title:  When the cable was pulled after the charge
-- reads:  session(session_id, procedure), power_run(session_id, t_s, charging, bridged, run_end_s, dropout), protocol(onset_sustained_s),
--         reading(session_id, source_id, t_s, t_us, speed_km_h, pack_voltage_v, pack_current_a, pack_power_kw), event(session_id, kind, t_s, width_s)
--
-- A row for each charge of which it is known: what the pack and the heaters give and get
-- from then on is not the charge's, however long the logger is left running. It is when
-- somebody noted it or a charger told of it; else when the log shows the car drive off: two
-- rows of a source, so that a single one that is off decides nothing, with more than 3 km/h,
-- or with more than 20 kW out of the pack, which no heater takes; or it was noted to set off.
-- All that counts is what comes after the last run of charge that lasts onset_sustained_s
-- (view power_run) in which the car stood, to the row after it: going downhill is no charge.
-- The limits are ours.
-- t_us is t_s in whole microseconds.

with

moving as materialized (
    select session_id, source_id, t_s, t_us from reading where speed_km_h > 3 and t_s >= 0
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

charges as (
    select r.session_id, r.t_s, r.run_end_s, r.next_s
    from runs r join session s using (session_id) cross join protocol p
    where s.procedure in ('cold-charge', 'warm-charge') and r.charging and r.run_end_s - r.t_s >= p.onset_sustained_s
),

ended as (
    select c.session_id, max(c.run_end_s) as end_s, floor(max(c.run_end_s) * 1000000 + 0.25)::bigint as last_us, floor(max(c.next_s) * 1000000 + 0.25)::bigint as after_us
    from charges c
    where not exists (from moving m where m.session_id = c.session_id and m.t_s between c.t_s and c.run_end_s)
    group by c.session_id
),

signs as (
    select m.session_id, m.source_id, m.t_us, 'moving' as sign from moving m join ended e using (session_id) where m.t_us > e.last_us
    union all
    select g.session_id, g.source_id, g.t_us, 'giving' from giving g join ended e using (session_id) where g.t_us > e.last_us
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
