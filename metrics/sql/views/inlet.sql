-- view:   inlet
-- title:  Power from the charger into the car, by the best source that a session has
-- reads:  reading(session_id, source_id, line, t_s, charger_power_kw, charger_voltage_v, charger_current_a, pack_voltage_v,
--         pack_current_a, pack_power_kw, heater_power_kw, accessory_power_kw), source(source_id, kind, offset_u_s),
--         instrument(source_id, channel, resolution, u_rel)
--
-- One basis a session, in this order, notes only where there is no log:
-- 1  the charger's power, as logged;
-- 2  the charger's voltage times current;
-- 3  what the car's log adds up to: pack, heater and accessories of one row.
--    What is lost between inlet and these is not in it, and accessories that
--    are not logged are not: 0.3 kW of uncertainty stand for both (ours).

with

candidates as (
    select session_id, source_id, line, t_s, charger_power_kw as kw, 1 as basis
    from reading
    where charger_power_kw is not null and t_s >= -600
    union all
    select session_id, source_id, line, t_s, charger_voltage_v * charger_current_a / 1000, 2
    from reading
    where charger_voltage_v is not null and charger_current_a is not null and t_s >= -600
    union all
    select
        session_id, source_id, line, t_s,
        coalesce(pack_voltage_v * pack_current_a / 1000, pack_power_kw) + heater_power_kw + coalesce(accessory_power_kw, 0), 3
    from reading
    where coalesce(pack_voltage_v * pack_current_a, pack_power_kw) is not null and heater_power_kw is not null and t_s >= -600
),

counted as (
    select c.session_id, c.source_id, c.basis, s.kind = 'notes' as noted, s.offset_u_s, count(*) as rows_held
    from candidates c join source s using (source_id)
    group by all
    having count(*) >= 2
),

chosen as (
    select distinct on (session_id) *
    from counted
    order by session_id, noted, basis, rows_held desc, source_id
),

accuracy as (
    select
        source_id,
        max(u_rel) filter (where channel = 'charger_power_kw') as u_rel_1,
        max(coalesce(resolution, 0)) filter (where channel = 'charger_power_kw') as step_1,
        sqrt(sum(u_rel ** 2) filter (where channel in ('charger_voltage_v', 'charger_current_a'))) as u_rel_2,
        max(u_rel) filter (where channel in ('pack_current_a', 'pack_power_kw', 'heater_power_kw')) as u_rel_3
    from instrument
    group by source_id
)

select
    c.session_id, c.source_id, c.line, c.t_s, c.kw, c.basis, h.noted, h.offset_u_s,
    case when h.noted then 900 else 60 end as hold_s,
    coalesce(case c.basis when 1 then a.u_rel_1 when 2 then a.u_rel_2 else a.u_rel_3 end, 0) as u_rel,
    case when c.basis = 3 then 0.3 else 0 end as u_abs_kw,
    coalesce(case c.basis when 1 then a.step_1 end, 0) as step_kw,
    case c.basis
        when 1 then 'charger power as logged'
        when 2 then 'charger voltage times current'
        else 'pack, heater and accessories of the car''s log'
    end as basis_name
from candidates c
join chosen h on c.session_id = h.session_id and c.source_id = h.source_id and c.basis = h.basis
left join accuracy a on c.source_id = a.source_id
order by c.session_id, c.t_s, c.line
