-- view:   basis
-- title:  By which source each quantity of a session is known
-- reads:  offer(session_id, source_id, quantity, noted, offset_u_s, rows_held, from_s, to_s, hold_s, enough),
--         instrument(source_id, channel, resolution, u_rel), event(session_id, kind), session(session_id, vehicle_id),
--         vehicle(vehicle_id, usable_kwh), shown_onset(session_id)
--
-- A row for each session and quantity that is known. One basis each, never two
-- mixed, from a source that tells enough of the charge (view offer), notes only
-- where there is no log; of several sources the one with the most rows.
-- pack, the net power into the pack:
-- 1  voltage times current of the pack;
-- 2  power of the pack, as logged;
-- 3  the pack's register of energy;
-- 4  the charger's power less pack heater, cabin heater and accessories, where
--    charger and pack heater are logged, the heater often enough for its rows, in the
--    mean, to be joined: a charger that delivers says nothing of a pack that may
--    receive nothing;
-- 5  the charger's power alone, once a person saw the charge begin, or else the
--    display rose steadily (view shown_onset);
-- 6  steps of the display, once it rises steadily.
-- inlet, the power from the charger into the car:
-- 1  the charger's power, as logged;
-- 2  the charger's voltage times current;
-- 3  the charger's register of energy;
-- 4  what the car's log adds up to: pack, heaters and accessories of one row.
-- heater, cabin and accessory: as logged.
-- worse: known by something that was meant for another quantity, or from notes
-- where the figure asks for a log. derived: pack and inlet are not measured each by
-- itself. ends_kwh: the last digit of a register counts once at each end of a sum,
-- whatever lies between: 2 x step^2/12. hold_us is hold_s in whole microseconds.

with

candidates as (
    select
        session_id, case when quantity like 'pack%' then 'pack' else 'inlet' end as quantity, source_id, noted, offset_u_s, hold_s, to_s, enough, rows_held,
        case quantity
            when 'pack_vi' then 1 when 'pack_vi_apart' then 1 when 'pack_kw' then 2 when 'pack_kwh' then 3
            when 'charger_kw' then 1 when 'charger_vi' then 2 when 'charger_kwh' then 3 else 4
        end as basis,
        quantity = 'pack_vi_apart' as apart, to_s - from_s <= hold_s * (rows_held - 1) as joined
    from offer
    where quantity in ('pack_vi', 'pack_vi_apart', 'pack_kw', 'pack_kwh', 'charger_kw', 'charger_vi', 'charger_kwh', 'car_sum')
    union all
    select
        session_id, case quantity when 'heater_kw' then 'heater' when 'cabin_kw' then 'cabin' else 'accessory' end,
        source_id, noted, offset_u_s, hold_s, to_s, enough, rows_held, 1, false, to_s - from_s <= hold_s * (rows_held - 1)
    from offer
    where quantity in ('heater_kw', 'cabin_kw', 'accessory_kw')
),

direct as materialized (
    select *
    from candidates
    qualify row_number() over (partition by session_id, quantity order by noted, not enough, basis, rows_held desc, source_id) = 1
),

roundabout as (
    select i.* replace ('pack' as quantity, 4 as basis, true as enough)
    from direct i
    where i.quantity = 'inlet' and i.basis < 4 and i.session_id in (select h.session_id from direct h where h.quantity = 'heater' and h.joined)
    union all
    select i.* replace ('pack' as quantity, 5 as basis, true as enough)
    from direct i
    where i.quantity = 'inlet' and i.basis < 4
        and (i.session_id in (select session_id from shown_onset) or i.session_id in (select session_id from event where kind = 'onset-seen'))
    union all
    select c.session_id, 'pack', c.source_id, c.noted, c.offset_u_s, 600, c.to_s, true, c.rows_held, 6, false, true
    from (select * from offer where quantity = 'soc' qualify row_number() over (partition by session_id order by noted, not enough, rows_held desc, source_id) = 1) c
    where c.session_id in (select session_id from shown_onset)
        and c.session_id in (select s.session_id from session s join vehicle v using (vehicle_id) where v.usable_kwh > 0)
),

chosen as (
    select *
    from (from direct union all from roundabout)
    qualify row_number() over (partition by session_id, quantity order by noted, not enough, basis, rows_held desc, source_id) = 1
),

accuracy as (
    select
        source_id,
        sqrt(sum(u_rel ** 2) filter (where channel in ('pack_voltage_v', 'pack_current_a'))) as pack_vi,
        max(u_rel) filter (where channel = 'pack_power_kw') as pack_kw,
        max(u_rel) filter (where channel = 'pack_energy_kwh') as pack_kwh,
        max(u_rel) filter (where channel = 'charger_power_kw') as charger_kw,
        sqrt(sum(u_rel ** 2) filter (where channel in ('charger_voltage_v', 'charger_current_a'))) as charger_vi,
        max(u_rel) filter (where channel = 'charger_energy_kwh') as charger_kwh,
        max(u_rel) filter (where channel in ('pack_current_a', 'pack_power_kw', 'heater_power_kw')) as car_sum,
        max(u_rel) filter (where channel = 'heater_power_kw') as heater,
        max(u_rel) filter (where channel = 'cabin_heater_power_kw') as cabin,
        max(u_rel) filter (where channel = 'accessory_power_kw') as accessory,
        max(resolution) filter (where channel = 'pack_power_kw') as pack_step_kw,
        max(resolution) filter (where channel = 'charger_power_kw') as charger_step_kw,
        max(resolution) filter (where channel = 'heater_power_kw') as heater_step_kw,
        max(resolution) filter (where channel = 'cabin_heater_power_kw') as cabin_step_kw,
        max(resolution) filter (where channel = 'accessory_power_kw') as accessory_step_kw,
        max(resolution) filter (where channel = 'pack_energy_kwh') as pack_step_kwh,
        max(resolution) filter (where channel = 'charger_energy_kwh') as charger_step_kwh,
        max(coalesce(resolution, 1)) filter (where channel = 'soc_pct') as step_pct
    from instrument
    group by source_id
)

select
    c.session_id, c.quantity, c.source_id, c.basis, c.apart, c.noted, c.hold_s, (c.hold_s * 1000000)::bigint as hold_us, c.to_s, c.offset_u_s,
    coalesce(case c.quantity
        when 'pack' then case c.basis when 1 then a.pack_vi when 2 then a.pack_kw when 3 then a.pack_kwh when 5 then coalesce(a.charger_kw, a.charger_vi, a.charger_kwh) when 6 then 0.05 end
        when 'inlet' then case c.basis when 1 then a.charger_kw when 2 then a.charger_vi when 3 then a.charger_kwh else a.car_sum end
        when 'heater' then a.heater
        when 'cabin' then a.cabin
        else a.accessory
    end, 0) as u_rel,
    coalesce(case c.quantity
        when 'pack' then case c.basis when 2 then a.pack_step_kw when 4 then a.charger_step_kw when 5 then a.charger_step_kw end
        when 'inlet' then case c.basis when 1 then a.charger_step_kw end
        when 'heater' then a.heater_step_kw
        when 'cabin' then a.cabin_step_kw
        else a.accessory_step_kw
    end, 0) as step_kw,
    coalesce(case
        when c.quantity = 'pack' and c.basis = 3 then a.pack_step_kwh
        when c.quantity = 'pack' and c.basis = 6 then coalesce(a.step_pct, 1) / 100 * v.usable_kwh
        when c.quantity = 'inlet' and c.basis = 3 then a.charger_step_kwh
    end, 0) / sqrt(6) as ends_kwh,
    case c.quantity when 'pack' then c.basis >= 4 when 'inlet' then c.basis = 4 or c.noted else c.noted end as worse,
    c.quantity = 'pack' and c.basis in (4, 5) or c.quantity = 'inlet' and c.basis = 4 as derived,
    case c.quantity
        when 'pack' then case c.basis
            when 1 then 'pack voltage times current'
            when 2 then 'pack power as logged'
            when 3 then 'the pack''s register of energy'
            when 4 then 'charger less heaters and accessories'
            when 5 then 'charger power, from when the charge was seen'
            else 'steps of the displayed charge'
        end
        when 'inlet' then case c.basis
            when 1 then 'charger power as logged'
            when 2 then 'charger voltage times current'
            when 3 then 'the charger''s register of energy'
            else 'pack, heaters and accessories of the car''s log'
        end
        when 'heater' then 'heater power as logged'
        when 'cabin' then 'cabin heater power as logged'
        else 'accessory power as logged'
    end as basis_name
from chosen c
join session s on c.session_id = s.session_id
left join vehicle v on s.vehicle_id = v.vehicle_id
left join accuracy a on c.source_id = a.source_id
