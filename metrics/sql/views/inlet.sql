-- view:   inlet
-- title:  Power from the charger into the car, by the best source that a session has
-- reads:  reading(session_id, source_id, line, t_s, charger_power_kw, charger_voltage_v, charger_current_a, charger_energy_kwh,
--         pack_voltage_v, pack_current_a, pack_power_kw, heater_power_kw, cabin_heater_power_kw, accessory_power_kw),
--         instrument(source_id, channel, resolution, u_rel),
--         offer(session_id, source_id, quantity, noted, offset_u_s, rows_held, to_s, hold_s, enough)
--
-- One basis a session, from a source that tells enough of the charge (view
-- offer), notes only where there is no log, in this order:
-- 1  the charger's power, as logged;
-- 2  the charger's voltage times current;
-- 3  the charger's register of energy: from one row in which it moved to the
--    next, its gain over their time, at both ends, so that sums give the
--    register's own difference. A register that falls was reset; that gain is
--    not known and the rows around it are joined;
-- 4  what the car's log adds up to: pack, heaters and accessories of one row.
--    What is lost between inlet and these is not in it, and accessories that
--    are not logged are not: 0.3 kW of uncertainty stand for both (ours).
-- derived: worked out from what the car says of itself. blur_s: by how much the
-- power of a row may have begun before it, the time that a register took to move.

with

chosen as (
    select *, case quantity when 'charger_kw' then 1 when 'charger_vi' then 2 when 'charger_kwh' then 3 else 4 end as basis
    from offer
    where quantity in ('charger_kw', 'charger_vi', 'charger_kwh', 'car_sum')
    qualify row_number() over (partition by session_id order by noted, not enough, basis, rows_held desc, source_id) = 1
),

held as (
    select r.*, h.basis, h.noted, h.offset_u_s, h.hold_s, h.to_s
    from reading r join chosen h on r.session_id = h.session_id and r.source_id = h.source_id
    where r.t_s >= -600
),

-- A register stands still while others move; only rows in which it moved, the
-- first and the last tell a power.
register as (
    select
        session_id, source_id, line, t_s, charger_energy_kwh as kwh, noted, offset_u_s,
        lag(t_s) over w as before_s,
        lag(charger_energy_kwh) over w as before_kwh
    from (
        select *, lag(charger_energy_kwh) over (partition by session_id order by t_s, line) as still_kwh
        from held
        where basis = 3 and charger_energy_kwh is not null
    )
    where still_kwh is null or charger_energy_kwh <> still_kwh or t_s = to_s
    window w as (partition by session_id order by t_s, line)
),

gains as (
    select *, (kwh - before_kwh) / (t_s - before_s) * 3600 as kw from register where kwh >= before_kwh and t_s > before_s
),

rows_of as (
    select session_id, source_id, line, t_s, charger_power_kw as kw, basis, noted, offset_u_s, hold_s, 0 as blur_s
    from held
    where basis = 1 and charger_power_kw is not null
    union all
    select session_id, source_id, line, t_s, charger_voltage_v * charger_current_a / 1000, basis, noted, offset_u_s, hold_s, 0
    from held
    where basis = 2 and charger_voltage_v is not null and charger_current_a is not null
    union all
    select session_id, source_id, line, before_s, kw, 3, noted, offset_u_s, greatest(t_s - before_s, 60), t_s - before_s from gains
    union all
    select session_id, source_id, line, t_s - 1e-6, kw, 3, noted, offset_u_s, 60, 0 from gains
    union all
    select
        session_id, source_id, line, t_s,
        coalesce(pack_voltage_v * pack_current_a / 1000, pack_power_kw) + heater_power_kw + coalesce(cabin_heater_power_kw, 0)
            + coalesce(accessory_power_kw, 0),
        basis, noted, offset_u_s, hold_s, 0
    from held
    where basis = 4 and coalesce(pack_voltage_v * pack_current_a, pack_power_kw) is not null and heater_power_kw is not null
),

accuracy as (
    select
        source_id,
        max(u_rel) filter (where channel = 'charger_power_kw') as u_rel_1,
        max(coalesce(resolution, 0)) filter (where channel = 'charger_power_kw') as step_1,
        sqrt(sum(u_rel ** 2) filter (where channel in ('charger_voltage_v', 'charger_current_a'))) as u_rel_2,
        max(u_rel) filter (where channel = 'charger_energy_kwh') as u_rel_3,
        max(coalesce(resolution, 0)) filter (where channel = 'charger_energy_kwh') as last_kwh,
        max(u_rel) filter (where channel in ('pack_current_a', 'pack_power_kw', 'heater_power_kw')) as u_rel_4
    from instrument
    group by source_id
)

select
    r.session_id, r.source_id, r.line, r.t_s, r.kw, r.basis, r.noted, r.offset_u_s, r.hold_s,
    coalesce(case r.basis when 1 then a.u_rel_1 when 2 then a.u_rel_2 when 3 then a.u_rel_3 else a.u_rel_4 end, 0) as u_rel,
    case when r.basis = 4 then 0.3 else 0 end as u_abs_kw,
    coalesce(case r.basis when 1 then a.step_1 end, 0) as step_kw,
    -- The last digit of a register counts at each end of a sum, whatever lies between: 2 x step^2/12.
    coalesce(case r.basis when 3 then a.last_kwh end, 0) / sqrt(6) as ends_kwh,
    r.blur_s,
    r.basis = 4 as derived,
    case r.basis
        when 1 then 'charger power as logged'
        when 2 then 'charger voltage times current'
        when 3 then 'the charger''s register of energy'
        else 'pack, heaters and accessories of the car''s log'
    end as basis_name
from rows_of r
left join accuracy a using (source_id)
order by r.session_id, r.t_s, r.line
