-- figure: energy_balance
-- title:  Energy that is not accounted for
-- unit:   %
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), energy(session_id, quantity, span, from_s, to_s, kwh, u_kwh, status, note),
--         basis(session_id, quantity, derived)
-- method: definition is ours
--
-- What the charger delivered, less what went into the pack, its heater, the cabin's
-- heater and accessories, of what it delivered: from the plug-in to where the first of
-- charger's and pack's log ends (view energy, shared). What is left is lost
-- on the way, or one of the instruments is wrong. A cabin heater that was not logged
-- counts as off; accessories that were not as 0.3 kW give or take 0.2 kW (common practice,
-- no source). There is no value where charger, pack or heater were not measured each by
-- itself, and none for less than 1 kWh delivered (ours). Uncertainty: all of them, as if
-- independent.

with

parts as (
    select
        i.session_id, i.from_s, i.to_s, i.kwh as inlet_kwh, i.u_kwh as u_inlet_kwh, p.kwh as pack_kwh, p.u_kwh as u_pack_kwh, h.kwh as heater_kwh, h.u_kwh as u_heater_kwh,
        coalesce(c.kwh, 0) as cabin_kwh, coalesce(c.u_kwh, 0) as u_cabin_kwh,
        coalesce(a.kwh, 0.3 * (i.to_s - i.from_s) / 3600) as accessory_kwh, coalesce(a.u_kwh, 0.2 * (i.to_s - i.from_s) / 3600) as u_accessory_kwh,
        coalesce(i.note, '') as i_note, p.note as p_note, h.note as h_note,
        i.session_id in (select session_id from basis where quantity in ('pack', 'inlet') and derived) as derived
    from energy i
    join energy p on i.session_id = p.session_id and p.quantity = 'pack' and p.span = 'shared'
    join energy h on i.session_id = h.session_id and h.quantity = 'heater' and h.span = 'shared'
    join energy c on i.session_id = c.session_id and c.quantity = 'cabin' and c.span = 'shared'
    join energy a on i.session_id = a.session_id and a.quantity = 'accessory' and a.span = 'shared'
    where i.quantity = 'inlet' and i.span = 'shared'
),

judged as (
    select
        *,
        inlet_kwh - pack_kwh - heater_kwh - cabin_kwh - accessory_kwh as left_kwh,
        (pack_kwh + heater_kwh + cabin_kwh + accessory_kwh) / inlet_kwh as used,
        coalesce(
            case when inlet_kwh is null then i_note end,
            case when pack_kwh is null then p_note end,
            case when heater_kwh is null then h_note end,
            case when derived then 'charger and pack were not measured each by itself' end,
            case when round(inlet_kwh, 6) < 1 then format('only {:.2f} kWh were delivered', inlet_kwh) end) as reason
    from parts
)

select
    s.session_id,
    case when j.reason is null then round(100 * j.left_kwh / j.inlet_kwh, 10) end as value,
    case when j.reason is null then 100 * sqrt((j.used * j.u_inlet_kwh) ** 2 + j.u_pack_kwh ** 2 + j.u_heater_kwh ** 2 + j.u_cabin_kwh ** 2 + j.u_accessory_kwh ** 2) / j.inlet_kwh end as uncertainty,
    j.from_s,
    j.to_s,
    case when j.reason is null then 'measured' else 'none' end as status,
    j.reason as note
from session s join judged j using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
