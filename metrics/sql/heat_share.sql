-- figure: heat_share
-- title:  Share of the energy spent on heat
-- unit:   %
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), energy(session_id, quantity, span, from_s, to_s, kwh, u_kwh, status, note)
-- method: definition is ours
--
-- What the pack's heater took, of what the charger delivered, from the plug-in to where
-- the first of charger's and pack's log ends (view energy, shared).
-- The rest went into the pack, or into pumps and cabin. There is no value where one of the
-- two logs tells of more than a tenth after the other, where the
-- heater was not logged or no power at the inlet is known, and none for less than
-- 1 kWh delivered (ours). Uncertainty: both energies, as if independent.

with

pair as (
    select
        h.session_id, h.from_s, coalesce(h.to_s, i.to_s) as to_s, h.kwh as heat_kwh, h.u_kwh as u_heat_kwh, i.kwh as inlet_kwh, i.u_kwh as u_inlet_kwh,
        h.status as heat_status, i.status as inlet_status, h.note as heat_note, i.note as inlet_note
    from energy h
    join energy i on h.session_id = i.session_id and i.quantity = 'inlet' and i.span = 'shared'
    where h.quantity = 'heater' and h.span = 'shared'
)

select
    s.session_id,
    case when round(b.inlet_kwh, 6) >= 1 then 100 * b.heat_kwh / b.inlet_kwh end as value,
    case when round(b.inlet_kwh, 6) >= 1 then 100 * sqrt((b.u_heat_kwh / b.inlet_kwh) ** 2 + (b.heat_kwh * b.u_inlet_kwh / b.inlet_kwh ** 2) ** 2) end as uncertainty,
    b.from_s,
    b.to_s,
    case
        when b.heat_kwh is null or b.inlet_kwh is null or round(b.inlet_kwh, 6) < 1 then 'none'
        when 'fallback' in (b.heat_status, b.inlet_status) then 'fallback'
        else 'measured'
    end as status,
    case
        when b.heat_kwh is null then b.heat_note
        when b.inlet_kwh is null then b.inlet_note
        when round(b.inlet_kwh, 6) < 1 then format('only {:.2f} kWh were delivered', b.inlet_kwh)
        else b.inlet_note
    end as note
from session s join pair b using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
