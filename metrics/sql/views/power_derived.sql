-- view:   power_derived
-- title:  Net power into the pack where no row states it
-- reads:  reading(session_id, source_id, line, t_s, pack_voltage_v, pack_current_a, pack_energy_kwh),
--         session(session_id, vehicle_id), vehicle(vehicle_id, usable_kwh), event(session_id, kind, t_s),
--         basis(session_id, source_id, quantity, basis, apart, hold_s, to_s, u_rel),
--         inlet(session_id, line, t_s, kw, hold_s, blur_s), heater(session_id, t_s, line, kw, hold_s),
--         cabin_heater(session_id, t_s, kw, hold_s), accessory(session_id, t_s, kw, hold_s),
--         charge_level(session_id, line, t_s, held_pct), shown_onset(session_id, from_s, to_s), protocol(onset_kw)
--
-- Columns as in the view power.
-- Basis 1: where a source has voltage and current in rows of their own, with the
-- last voltage, at most its hold old.
-- Basis 3, the pack's register, and 6, the displayed charge as a share of the
-- usable energy that the vehicle's file states: between rows in which it moved, as
-- in the view inlet. What the display gains before it rises steadily is no charge.
-- A cold pack does not hold what a warm one does: 5 % of uncertainty (ours).
-- Basis 4, the charger's power less the loads. A cabin heater that is not logged counts
-- as off; accessories that are not logged, or not within their hold, as 0.3 kW
-- give or take 0.2 kW (common practice, no source). Each instrument's share of its
-- own reading is the uncertainty, since the small difference of two large powers is
-- not known to a share of itself. Between two rows of the heater's, no further apart
-- than its hold, its power goes in a line, with their difference as the width of a
-- rectangle (JCGM 100, 4.3.7), since it may have switched at any moment. After its last
-- row before a longer gap it is taken to go on for a minute (ours); then nothing is
-- known of the pack, for what the charger gives may all go into the heater. A cabin
-- heater that was last logged longer ago than its hold may be on or off: the middle,
-- rectangular. Nor is anything known where the pack would charge, by the protocol's
-- onset_kw, with the heaters at the one end of what they may take and not at the other.
-- Basis 5, the charger's power from when the charge was seen: before that moment
-- nothing counts as charge; after it an unknown load of 0 to 8 kW is taken out by its
-- middle, 4 kW, with a standard uncertainty of 8/sqrt(12) (rectangular, JCGM 100,
-- 4.3.7; the range is ours), from two minutes before on, for a person sees late.

with

chosen as materialized (
    select * from basis where quantity = 'pack'
),

held as (
    select r.session_id, r.line, r.t_s, r.pack_voltage_v, r.pack_current_a, r.pack_energy_kwh, h.basis, h.hold_s, h.to_s
    from reading r join chosen h on r.source_id = h.source_id
    where (h.basis = 1 and h.apart or h.basis = 3) and r.t_s >= -600
),

volted as (
    select
        *,
        last_value(pack_voltage_v ignore nulls) over w as v,
        last_value(case when pack_voltage_v is not null then t_s end ignore nulls) over w as v_s
    from held
    where basis = 1
    window w as (partition by session_id order by t_s, line)
),

counts as (
    select session_id, line, t_s, pack_energy_kwh as kwh, to_s, 3 as basis from held where basis = 3 and pack_energy_kwh is not null
    union all
    select c.session_id, c.line, c.t_s, c.held_pct / 100 * v.usable_kwh, h.to_s, 6
    from charge_level c
    join chosen h on c.session_id = h.session_id and h.basis = 6
    join session s on c.session_id = s.session_id
    join vehicle v on s.vehicle_id = v.vehicle_id
),

register as (
    select
        session_id, line, t_s, kwh, basis,
        lag(t_s) over w as before_s,
        lag(kwh) over w as before_kwh
    from (select *, lag(kwh) over (partition by session_id order by t_s, line) as still_kwh from counts)
    where still_kwh is null or kwh <> still_kwh or t_s = to_s
    window w as (partition by session_id order by t_s, line)
),

gains as (
    select r.*, case when o.session_id is not null then 0 else (r.kwh - r.before_kwh) / (r.t_s - r.before_s) * 3600 end as kw
    from register r left join shown_onset o on r.session_id = o.session_id and r.basis = 6 and r.t_s <= o.from_s
    where (r.kwh >= r.before_kwh or r.basis = 6) and r.t_s > r.before_s
),

begun as (
    select coalesce(e.session_id, o.session_id) as session_id, coalesce(e.t_s, (o.from_s + o.to_s) / 2) as t_s
    from (select session_id, min(t_s) as t_s from event where kind = 'onset-seen' group by session_id) e
    full join shown_onset o on e.session_id = o.session_id
),

delivered as materialized (
    select i.*, h.basis, h.hold_s as source_hold_s
    from inlet i join chosen h on i.session_id = h.session_id
    where h.basis in (4, 5)
),

rates as (
    select session_id, max(case when quantity = 'inlet' then u_rel end) as inlet, max(case when quantity = 'heater' then u_rel end) as heater
    from basis
    group by session_id
),

heats as (
    select *, lead(t_s) over w as next_s, lead(kw) over w as next_kw
    from heater
    where session_id in (select session_id from chosen where basis = 4)
    window w as (partition by session_id order by t_s, line)
),

less as (
    select
        d.session_id, d.line, d.t_s, d.kw, d.blur_s, d.source_hold_s,
        case
            when h.next_s - h.t_s between 1e-6 and h.hold_s then h.kw + (h.next_kw - h.kw) * (d.t_s - h.t_s) / (h.next_s - h.t_s)
            else h.kw
        end as heater_kw,
        case when d.t_s > h.t_s then abs(coalesce(h.next_kw - h.kw, 0)) / sqrt(12) else 0 end as u_between_kw,
        case when d.t_s > h.t_s then least(h.kw, h.next_kw) else h.kw end as heater_least_kw,
        case when d.t_s > h.t_s then greatest(h.kw, h.next_kw) else h.kw end as heater_most_kw,
        case when d.t_s - c.t_s <= c.hold_s then c.kw else 0 end as cabin_least_kw,
        coalesce(c.kw, 0) as cabin_most_kw,
        case when d.kw < 0.1 then 0 when d.t_s - a.t_s <= a.hold_s then a.kw end as accessory_kw
    from (select * from delivered where basis = 4) d
    asof join heats h on d.session_id = h.session_id and d.t_s >= h.t_s
    asof left join (select c.* from cabin_heater c join chosen k on c.session_id = k.session_id and k.basis = 4) c on d.session_id = c.session_id and d.t_s >= c.t_s
    asof left join (select a.* from accessory a join chosen k on a.session_id = k.session_id and k.basis = 4) a on d.session_id = a.session_id and d.t_s >= a.t_s
    where coalesce(h.next_s - h.t_s <= h.hold_s, false) or d.t_s - h.t_s <= 60
),

left_over as (
    select
        l.*, l.kw - coalesce(l.accessory_kw, 0.3) as before_heat_kw,
        (l.cabin_least_kw + l.cabin_most_kw) / 2 as cabin_kw, (l.cabin_most_kw - l.cabin_least_kw) / sqrt(12) as u_cabin_kw
    from less l
),

indirect as (
    select session_id, line, t_s, v * pack_current_a / 1000 as kw, hold_s, 0::double as u_abs_kw, 0::double as blur_s
    from volted
    where pack_current_a is not null and t_s - v_s <= hold_s
    union all
    select session_id, line, before_s, kw, greatest(t_s - before_s, 60), 0, t_s - before_s from gains
    union all
    select session_id, line, t_s - 1e-6, kw, 60, 0, 0 from gains
    union all
    select
        l.session_id, l.line, l.t_s, l.before_heat_kw - l.heater_kw - l.cabin_kw, l.source_hold_s,
        sqrt(l.u_between_kw ** 2 + l.u_cabin_kw ** 2 + (r.inlet * l.kw) ** 2 + (r.heater * l.heater_kw) ** 2 + (0.02 * l.cabin_kw) ** 2
            + case when l.accessory_kw is null then 0.2 else 0 end ** 2),
        l.blur_s
    from left_over l join rates r using (session_id) cross join protocol p
    where (l.before_heat_kw - l.heater_most_kw - l.cabin_most_kw >= p.onset_kw) = (l.before_heat_kw - l.heater_least_kw - l.cabin_least_kw >= p.onset_kw)
    union all
    select
        d.session_id, d.line, d.t_s,
        case when d.t_s >= b.t_s then greatest(d.kw - 4, 0) else 0 end,
        d.source_hold_s,
        case when d.t_s >= b.t_s - 120 then 8 / sqrt(12) else 0 end,
        0
    from delivered d left join begun b using (session_id)
    where d.basis = 5
)

select
    session_id, line, t_us / 1e6 as t_s, t_us, kw, hold_s, u_abs_kw, blur_s,
    lag(t_us) over w / 1e6 as before_s,
    lag(t_us) over w as before_us,
    lag(kw) over w as before_kw,
    lag(u_abs_kw) over w as before_u_abs_kw,
    t_us - lag(t_us) over w <= lag((hold_s * 1000000)::bigint) over w as bridged
from (select *, (t_s * 1000000)::bigint as t_us from indirect)
window w as (partition by session_id order by t_us, line)
