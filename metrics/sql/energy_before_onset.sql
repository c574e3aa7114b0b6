-- figure: energy_before_onset
-- title:  Energy from the charger before charge
-- unit:   kWh
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure),
--         energy(session_id, quantity, span, from_s, to_s, last_s, kwh, u_kwh, unbridged_s, worse, basis_name),
--         onset(session_id, t_s)
-- method: definition is ours
--
-- What the charger delivered between the plug-in that led to the charge and the
-- onset: it went into heaters and accessories and not into the pack. Views inlet
-- (where the power is from) and energy (how it is summed, and its uncertainty).
-- There is no value without an onset, and none where no power at the inlet is
-- known.

with

held as (
    select * from energy where quantity = 'inlet' and span = 'before-onset'
)

select
    s.session_id,
    case when e.kwh is not null then e.kwh end as value,
    case when e.kwh is not null then e.u_kwh end as uncertainty,
    e.from_s,
    e.to_s,
    case when e.kwh is null then 'none' when e.worse then 'fallback' else 'measured' end as status,
    case
        when o.t_s is null then 'no onset was found'
        when e.kwh is null then 'no power at the inlet is known'
        when e.unbridged_s > 60 then format('{}; {:.0f} s without rows are left out', e.basis_name, e.unbridged_s)
        else e.basis_name
    end as note
from session s
left join held e using (session_id)
left join onset o using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
