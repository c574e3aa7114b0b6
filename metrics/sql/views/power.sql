-- view:   power
-- title:  Net power into the pack, by the best source that a session has
-- reads:  reading(session_id, source_id, line, t_s, pack_voltage_v, pack_current_a, pack_power_kw, pack_energy_kwh,
--         cabin_heater_power_kw, accessory_power_kw), session(session_id, vehicle_id), vehicle(vehicle_id, usable_kwh),
--         event(session_id, kind, t_s), instrument(source_id, channel, resolution, u_rel),
--         offer(session_id, source_id, quantity, noted, offset_u_s, rows_held, to_s, hold_s, enough),
--         inlet(session_id, source_id, line, t_s, kw, noted, offset_u_s, hold_s, u_rel, blur_s, derived),
--         heater(session_id, t_s, line, kw, hold_s, u_rel),
--         charge_level(session_id, source_id, line, t_s, held_pct, noted, offset_u_s, step_pct),
--         shown_onset(session_id, from_s, to_s)
--
-- One basis a session, never two mixed, from sources that tell enough of the
-- charge (view offer), notes only where there is no log, in this order:
-- 1  voltage times current of the pack; where a source has them in rows of their
--    own, with the last voltage, at most its hold old;
-- 2  power of the pack, as logged;
-- 3  the pack's register of energy, between rows in which it moved;
-- 4  the charger's power less pack heater, cabin heater and accessories, none
--    older than its hold. The heater must be logged: a charger that delivers
--    says nothing of a pack that may receive nothing. A cabin heater that is not
--    logged counts as off; accessories that are not logged as 0.3 kW give or take
--    0.2 kW (common practice, no source). Each instrument's share of its own
--    reading is the uncertainty, since the small difference of two large powers
--    is not known to a share of itself. Between two rows of the heater's its
--    power goes in a line, with their difference as the width of a rectangle
--    (JCGM 100, 4.3.7), since it may have switched at any moment;
-- 5  the charger's power alone, once a person saw the charge begin, or else the
--    display rose steadily (view shown_onset): before that moment nothing counts
--    as charge; after it an unknown load of 0 to 8 kW is taken out by its middle,
--    4 kW, with a standard uncertainty of 8/sqrt(12) (rectangular, JCGM 100,
--    4.3.7; the range is ours), from two minutes before on, for a person sees late;
-- 6  steps of the display, once it rises steadily, as shares of the usable
--    energy that the vehicle's file states. A cold pack does not hold what a warm
--    one does: 5 % of uncertainty (ours).
-- worse: a basis from 4 on. derived: one that takes the charger's power for it.
-- blur_s as in the view inlet.

with

offered as (
    select
        session_id, source_id, noted, offset_u_s, hold_s, to_s, enough, rows_held,
        case quantity when 'pack_vi' then 1 when 'pack_vi_apart' then 1 when 'pack_kw' then 2 else 3 end as basis
    from offer
    where quantity in ('pack_vi', 'pack_vi_apart', 'pack_kw', 'pack_kwh')
    union all
    select session_id, any_value(source_id), bool_or(noted), max(offset_u_s), max(hold_s), max(t_s), true, count(*), 4
    from inlet
    where not derived and session_id in (select session_id from heater)
    group by session_id
    union all
    select session_id, any_value(source_id), bool_or(noted), max(offset_u_s), max(hold_s), max(t_s), true, count(*), 5
    from inlet
    where not derived
        and (session_id in (select session_id from shown_onset) or session_id in (select session_id from event where kind = 'onset-seen'))
    group by session_id
    union all
    select session_id, any_value(source_id), bool_or(noted), max(offset_u_s), 600, max(t_s), true, count(*), 6
    from charge_level
    where session_id in (select session_id from shown_onset)
        and session_id in (select s.session_id from session s join vehicle v using (vehicle_id) where v.usable_kwh > 0)
    group by session_id
),

chosen as (
    select * from offered qualify row_number() over (partition by session_id order by noted, not enough, basis, rows_held desc, source_id) = 1
),

held as (
    select
        r.session_id, r.source_id, r.line, r.t_s, r.pack_voltage_v, r.pack_current_a, r.pack_power_kw, r.pack_energy_kwh,
        h.basis, h.hold_s, h.to_s
    from reading r join chosen h on r.session_id = h.session_id and r.source_id = h.source_id
    where h.basis <= 3 and r.t_s >= -600
),

apart as (
    select
        *,
        last_value(pack_voltage_v ignore nulls) over w as v,
        last_value(case when pack_voltage_v is not null then t_s end ignore nulls) over w as v_s
    from held
    where basis = 1 and session_id in (select session_id from offer where quantity = 'pack_vi_apart')
    window w as (partition by session_id order by t_s, line)
),

register as (
    select
        session_id, source_id, line, t_s, kwh,
        lag(t_s) over w as before_s,
        lag(kwh) over w as before_kwh,
        3 as basis
    from (
        select *, pack_energy_kwh as kwh, lag(pack_energy_kwh) over (partition by session_id order by t_s, line) as still_kwh
        from held
        where basis = 3 and pack_energy_kwh is not null
    )
    where still_kwh is null or kwh <> still_kwh or t_s = to_s
    window w as (partition by session_id order by t_s, line)
    union all
    select
        session_id, source_id, line, t_s, kwh,
        lag(t_s) over x as before_s,
        lag(kwh) over x as before_kwh,
        6
    from (
        select
            c.session_id, c.source_id, c.line, c.t_s, h.to_s, c.held_pct / 100 * v.usable_kwh as kwh, c.held_pct,
            lag(c.held_pct) over (partition by c.session_id order by c.t_s, c.line) as still_pct
        from charge_level c
        join chosen h on c.session_id = h.session_id and h.basis = 6
        join session s on c.session_id = s.session_id
        join vehicle v on s.vehicle_id = v.vehicle_id
    )
    where still_pct is null or held_pct <> still_pct or t_s = to_s
    window x as (partition by session_id order by t_s, line)
),

-- What the display gains before it rises steadily is no charge.
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

delivered as (
    select i.* exclude (basis), h.basis, b.t_s as begun_s
    from inlet i join chosen h on i.session_id = h.session_id and h.basis in (4, 5) left join begun b on i.session_id = b.session_id
),

heats as (
    select *, lead(t_s) over w as next_s, lead(kw) over w as next_kw
    from heater
    where session_id in (select session_id from chosen where basis = 4)
    window w as (partition by session_id order by t_s, line)
),

loads as (
    select r.session_id, 'cabin' as load, r.t_s, r.cabin_heater_power_kw as kw, o.hold_s
    from reading r join offer o on r.session_id = o.session_id and r.source_id = o.source_id and o.quantity = 'cabin_kw'
    where r.cabin_heater_power_kw is not null
    union all
    select r.session_id, 'accessory', r.t_s, r.accessory_power_kw, o.hold_s
    from reading r join offer o on r.session_id = o.session_id and r.source_id = o.source_id and o.quantity = 'accessory_kw'
    where r.accessory_power_kw is not null
),

less as (
    select
        d.session_id, d.source_id, d.line, d.t_s, d.kw, d.u_rel, d.blur_s,
        case
            when h.next_s - h.t_s between 1e-6 and h.hold_s then h.kw + (h.next_kw - h.kw) * (d.t_s - h.t_s) / (h.next_s - h.t_s)
            else h.kw
        end as heater_kw,
        case when d.t_s > h.t_s then abs(coalesce(h.next_kw - h.kw, 0)) / sqrt(12) else 0 end as u_between_kw,
        h.u_rel as heater_u_rel,
        case when d.t_s - c.t_s <= c.hold_s then c.kw else 0 end as cabin_kw,
        case when d.t_s - a.t_s <= a.hold_s then a.kw end as accessory_kw
    from (select * from delivered where basis = 4) d
    asof join heats h on d.session_id = h.session_id and d.t_s >= h.t_s
    asof left join (from loads where load = 'cabin') c on d.session_id = c.session_id and d.t_s >= c.t_s
    asof left join (from loads where load = 'accessory') a on d.session_id = a.session_id and d.t_s >= a.t_s
    where d.t_s - h.t_s <= h.hold_s
),

rows_of as (
    select session_id, source_id, line, t_s, pack_voltage_v * pack_current_a / 1000 as kw, null::double as joined_s, 0 as u_load_kw, 0 as blur_s
    from held
    where basis = 1 and pack_voltage_v is not null and pack_current_a is not null and session_id not in (select session_id from apart)
    union all
    select session_id, source_id, line, t_s, v * pack_current_a / 1000, null, 0, 0
    from apart
    where pack_current_a is not null and t_s - v_s <= hold_s
    union all
    select session_id, source_id, line, t_s, pack_power_kw, null, 0, 0
    from held
    where basis = 2 and pack_power_kw is not null
    union all
    select session_id, source_id, line, before_s, kw, greatest(t_s - before_s, 60), 0, t_s - before_s from gains
    union all
    select session_id, source_id, line, t_s - 1e-6, kw, 60, 0, 0 from gains
    union all
    select
        session_id, source_id, line, t_s,
        kw - heater_kw - cabin_kw - case when kw < 0.1 then 0 else coalesce(accessory_kw, 0.3) end,
        null,
        sqrt(u_between_kw ** 2 + (u_rel * kw) ** 2 + (heater_u_rel * heater_kw) ** 2 + (0.02 * cabin_kw) ** 2
            + case when accessory_kw is null and kw >= 0.1 then 0.2 else 0 end ** 2),
        blur_s
    from less
    union all
    select
        session_id, source_id, line, t_s,
        case when t_s >= begun_s then greatest(kw - 4, 0) else 0 end,
        null,
        case when t_s >= begun_s - 120 then 8 / sqrt(12) else 0 end,
        0
    from delivered
    where basis = 5
),

accuracy as (
    select
        source_id,
        sqrt(sum(u_rel ** 2) filter (where channel in ('pack_voltage_v', 'pack_current_a'))) as u_rel_1,
        max(u_rel) filter (where channel = 'pack_power_kw') as u_rel_2,
        max(u_rel) filter (where channel = 'pack_energy_kwh') as u_rel_3,
        max(u_rel) filter (where channel = 'charger_power_kw') as u_rel_5,
        max(coalesce(resolution, 0)) filter (where channel = 'pack_power_kw') as step_2,
        max(coalesce(resolution, 0)) filter (where channel = 'pack_energy_kwh') as step_3_kwh,
        max(coalesce(resolution, 0)) filter (where channel = 'charger_power_kw') as step_4,
        max(coalesce(resolution, 1)) filter (where channel = 'soc_pct') as step_6_pct
    from instrument
    group by source_id
)

select
    r.session_id, r.source_id, r.line, r.t_s, r.kw, h.basis, h.noted, h.offset_u_s,
    coalesce(r.joined_s, h.hold_s) as hold_s,
    coalesce(case h.basis when 1 then a.u_rel_1 when 2 then a.u_rel_2 when 3 then a.u_rel_3 when 5 then a.u_rel_5 when 6 then 0.05 end, 0) as u_rel,
    r.u_load_kw as u_abs_kw,
    coalesce(case h.basis when 2 then a.step_2 when 4 then a.step_4 when 5 then a.step_4 end, 0) as step_kw,
    -- As in the view inlet.
    coalesce(case h.basis when 3 then a.step_3_kwh when 6 then coalesce(a.step_6_pct, 1) / 100 * v.usable_kwh end, 0) / sqrt(6) as ends_kwh,
    r.blur_s,
    h.basis >= 4 as worse,
    h.basis in (4, 5) as derived,
    case h.basis
        when 1 then 'pack voltage times current'
        when 2 then 'pack power as logged'
        when 3 then 'the pack''s register of energy'
        when 4 then 'charger less heaters and accessories'
        when 5 then 'charger power, from when the charge was seen'
        else 'steps of the displayed charge'
    end as basis_name
from rows_of r
join chosen h on r.session_id = h.session_id
join session s on r.session_id = s.session_id
left join vehicle v on s.vehicle_id = v.vehicle_id
left join accuracy a on r.source_id = a.source_id
order by r.session_id, r.t_s, r.line
