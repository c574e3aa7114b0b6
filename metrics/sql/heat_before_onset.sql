-- figure: heat_before_onset
-- title:  Heat before charge
-- unit:   kWh
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure),
--         energy(session_id, quantity, span, from_s, to_s, kwh, u_kwh, status, note)
-- method: definition is ours
--
-- What the pack's heater took between the plug-in that led to the charge and the
-- onset. Views heater and energy. There is no value without an onset, and none
-- where the heater is not logged.

select s.session_id, e.kwh as value, e.u_kwh as uncertainty, e.from_s, e.to_s, e.status, e.note
from session s
join energy e on s.session_id = e.session_id and e.quantity = 'heater' and e.span = 'before-onset'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
