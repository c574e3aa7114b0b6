-- figure: energy_5min
-- title:  Energy into the pack in 5 min
-- unit:   kWh
-- better: higher
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure),
--         energy(session_id, quantity, span, from_s, to_s, kwh, u_kwh, status, note)
-- method: definition is ours
--
-- Net energy into the pack in the first 5 minutes after the plug-in that led to
-- the charge, the delay included: a pack that is still being heated has 0 kWh.
-- Views power and energy. There is no value where power into the pack is not known,
-- and none where its log ends before the 5 minutes do.

select s.session_id, e.kwh as value, e.u_kwh as uncertainty, e.from_s, e.to_s, e.status, e.note
from session s
join energy e on s.session_id = e.session_id and e.quantity = 'pack' and e.span = '5min'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
