-- view:   inlet
-- title:  Power from the charger into the car
-- reads:  reading(session_id, source_id, line, t_s, charger_power_kw, charger_voltage_v, charger_current_a, charger_energy_kwh,
--         pack_voltage_v, pack_current_a, pack_power_kw, heater_power_kw, cabin_heater_power_kw, accessory_power_kw),
--         basis(session_id, source_id, quantity, basis, hold_s, to_s, step_kw)
--
-- The rows of the source, and by the basis, that the view basis names.
-- Basis 3, the charger's register of energy: from one row in which it moved to the
-- next, its gain over their time, at both ends, so that sums give the register's
-- own difference. A register that falls was reset; that gain is not known and the
-- rows around it are joined. blur_s is by how much the power of a row may have begun
-- before it: the time that a register took to move.
-- Basis 4, the car's log: what is lost between inlet and pack, heaters and
-- accessories is not in it, and accessories that are not logged are not: 0.3 kW of
-- uncertainty stand for both (ours).

with

held as (
    select r.*, h.basis, h.hold_s, h.to_s, h.step_kw
    from reading r join basis h on r.session_id = h.session_id and r.source_id = h.source_id and h.quantity = 'inlet'
    where r.t_s >= -600
),

-- A register stands still while others move; only rows in which it moved, the
-- first and the last tell a power.
register as (
    select
        session_id, line, t_s, charger_energy_kwh as kwh,
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
)

select
    session_id, line, t_s,
    case basis
        when 1 then charger_power_kw
        when 2 then charger_voltage_v * charger_current_a / 1000
        when 4 then coalesce(pack_voltage_v * pack_current_a / 1000, pack_power_kw) + heater_power_kw + coalesce(cabin_heater_power_kw, 0) + coalesce(accessory_power_kw, 0)
    end as kw,
    hold_s, case when basis = 4 then 0.3 else 0 end::double as u_abs_kw, step_kw, 0::double as blur_s
from held
where basis = 1 and charger_power_kw is not null
    or basis = 2 and charger_voltage_v is not null and charger_current_a is not null
    or basis = 4 and coalesce(pack_voltage_v * pack_current_a, pack_power_kw) is not null and heater_power_kw is not null
union all
select session_id, line, before_s, kw, greatest(t_s - before_s, 60), 0, 0, t_s - before_s from gains
union all
select session_id, line, t_s - 1e-6, kw, 60, 0, 0, 0 from gains
