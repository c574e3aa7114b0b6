-- figure: heat_session
-- title:  Heat in the whole session
-- unit:   kWh
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure),
--         energy(session_id, quantity, span, from_s, to_s, kwh, u_kwh, status, note)
-- method: definition is ours
--
-- What the pack's heater took from the plug-in that led to the charge to the end of
-- its log, before the charge and while it ran. Views heater and energy. There is no
-- value where the heater is not logged.

select s.session_id, e.kwh as value, e.u_kwh as uncertainty, e.from_s, e.to_s, e.status, e.note
from session s
join energy e on s.session_id = e.session_id and e.quantity = 'heater' and e.span = 'session'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
