-- figure: energy_into_pack
-- title:  Energy into the pack
-- unit:   kWh
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure),
--         energy(session_id, quantity, span, from_s, to_s, kwh, u_kwh, status, note)
-- method: definition is ours
--
-- Net energy into the pack at its terminals, from the plug-in that led to the charge
-- to the end of its log. Views power (where it is from) and energy (how it is
-- summed, and its uncertainty). It depends on where the charge began and ended, so
-- it is not ranked. There is no value where power into the pack is not known, nor where its
-- log ends before the onset that somebody saw.

select s.session_id, e.kwh as value, e.u_kwh as uncertainty, e.from_s, e.to_s, e.status, e.note
from session s
join energy e on s.session_id = e.session_id and e.quantity = 'pack' and e.span = 'session'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
