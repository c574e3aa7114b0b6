-- view:   inlet
-- title:  Power from the charger into the car
-- made:   in place
-- reads:  reading(source_id, session_id, line, t_s, t_us, charger_power_kw, charger_voltage_v, charger_current_a,
--         pack_voltage_v, pack_current_a, pack_power_kw, heater_power_kw, cabin_heater_power_kw, accessory_power_kw),
--         basis(source_id, quantity, basis, hold_s, hold_us), inlet_register(session_id, line, t_s, t_us, kw, hold_s, blur_s, before_s, before_us, before_kw, bridged),
--         session(session_id, procedure)
--
-- The rows of the source, and by the basis, that the view basis names. Basis 3, the
-- charger's register of energy, is the view inlet_register. blur_s is by how much the
-- power of a row may have begun before it: the time that a register took to move.
-- Basis 4, the car's log: what is lost between inlet and pack, heaters and
-- accessories is not in it, and accessories that are not logged are not: 0.3 kW of
-- uncertainty stand for both (ours). Of charges only: a car that drives or stands is
-- not at a charger because its pack and loads add up to something.
-- before_s, before_us (view power), before_kw: the row before; bridged: not further from it than its hold.

with

-- What each row would be by each basis, with the row before; each basis from rows of
-- its own, since another of the source's rows may lie between.
known as (
    select
        session_id, source_id, line, t_s, t_us, 1 as basis, charger_power_kw as kw,
        case when source_id = lag(source_id) over () then lag(t_us) over () end as before_us,
        case when source_id = lag(source_id) over () then lag(charger_power_kw) over () end as before_kw
    from reading
    where charger_power_kw is not null and t_s >= -600
    union all
    select
        session_id, source_id, line, t_s, t_us, 2, charger_voltage_v * charger_current_a / 1000,
        case when source_id = lag(source_id) over () then lag(t_us) over () end,
        case when source_id = lag(source_id) over () then lag(charger_voltage_v * charger_current_a / 1000) over () end
    from reading
    where charger_voltage_v is not null and charger_current_a is not null and t_s >= -600
    union all
    select
        session_id, source_id, line, t_s, t_us, 4, kw,
        case when source_id = lag(source_id) over () then lag(t_us) over () end,
        case when source_id = lag(source_id) over () then lag(kw) over () end
    from (
        select
            session_id, source_id, line, t_s, t_us,
            coalesce(pack_voltage_v * pack_current_a / 1000, pack_power_kw) + heater_power_kw + coalesce(cabin_heater_power_kw, 0) + coalesce(accessory_power_kw, 0) as kw
        from reading
        where coalesce(pack_voltage_v * pack_current_a, pack_power_kw) is not null and heater_power_kw is not null and t_s >= -600
    )
)

select
    k.session_id, k.line, k.t_s, k.t_us, k.kw, h.hold_s, case when h.basis = 4 then 0.3 else 0 end::double as u_abs_kw, 0::double as blur_s,
    k.before_us / 1e6 as before_s, k.before_us, k.before_kw, k.t_us - k.before_us <= h.hold_us as bridged
from known k join basis h on k.source_id = h.source_id and k.basis = h.basis and h.quantity = 'inlet'
where h.basis < 4 or k.session_id in (select s.session_id from session s where s.procedure in ('cold-charge', 'warm-charge'))
union all
select session_id, line, t_s, t_us, kw, hold_s, 0::double, blur_s, before_s, before_us, before_kw, bridged from inlet_register
