-- figure: heat_session
-- title:  Heat in the whole session
-- unit:   kWh
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure),
--         energy(session_id, quantity, span, from_s, to_s, last_s, kwh, u_kwh, unbridged_s, worse, basis_name)
-- method: definition is ours
--
-- What the pack's heater took from the plug-in that led to the charge to the end of
-- its log, before the charge and while it ran. Views heater and energy. There is no
-- value where the heater is not logged.

with

held as (
    select * from energy where quantity = 'heater' and span = 'session'
)

select
    s.session_id,
    case when e.kwh is not null then e.kwh end as value,
    case when e.kwh is not null then e.u_kwh end as uncertainty,
    e.from_s,
    e.to_s,
    case when e.kwh is null then 'none' when e.worse then 'fallback' else 'measured' end as status,
    case
        when e.kwh is null then 'the heater was not logged'
        when e.unbridged_s > 60 then format('{}; {:.0f} s without rows are left out', e.basis_name, e.unbridged_s)
        else e.basis_name
    end as note
from session s
left join held e using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
