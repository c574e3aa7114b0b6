-- figure: efficiency
-- title:  From charger to pack
-- unit:   %
-- better: higher
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), energy(session_id, quantity, span, from_s, to_s, kwh, u_kwh, status, note),
--         basis(session_id, quantity, derived)
-- method: definition is ours
--
-- Energy into the pack of what the charger delivered, from the plug-in to where the
-- first of the two logs ends (view energy, shared): what only one of them tells of says
-- nothing, and where that is more than a tenth there is no value. What is
-- missing went into heat, pumps, cabin and the way. Both must be measured by
-- themselves: where one is worked out from the other there is no value, and none
-- for less than 1 kWh delivered (ours). Uncertainty: both energies, as if
-- independent.

with

bases as (
    select session_id, bool_or(derived) as derived from basis where quantity in ('pack', 'inlet') group by session_id
),

pair as (
    select
        p.session_id, p.from_s, coalesce(p.to_s, i.to_s) as to_s, p.kwh as pack_kwh, p.u_kwh as u_pack_kwh, i.kwh as inlet_kwh, i.u_kwh as u_inlet_kwh,
        coalesce(
            case when p.kwh is null then p.note end,
            case when i.kwh is null then i.note end,
            case when b.derived then 'one of the two is worked out from the other' end,
            case when round(i.kwh, 6) < 1 then format('only {:.2f} kWh were delivered', i.kwh) end) as reason
    from energy p
    join energy i on p.session_id = i.session_id and i.quantity = 'inlet' and i.span = 'shared'
    left join bases b on p.session_id = b.session_id
    where p.quantity = 'pack' and p.span = 'shared'
)

select
    s.session_id,
    case when b.reason is null then 100 * b.pack_kwh / b.inlet_kwh end as value,
    case when b.reason is null then 100 * sqrt((b.u_pack_kwh / b.inlet_kwh) ** 2 + (b.pack_kwh * b.u_inlet_kwh / b.inlet_kwh ** 2) ** 2) end as uncertainty,
    b.from_s,
    b.to_s,
    case when b.reason is null then 'measured' else 'none' end as status,
    b.reason as note
from session s join pair b using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
