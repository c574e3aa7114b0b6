-- figure: pack_register_off
-- title:  Pack's register against its power
-- unit:   %
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), register_off(session_id, quantity, value, u, from_s, to_s, status, note)
-- method: definition is ours
--
-- By how much the energy that the pack's register counted after the plug-in is above the
-- integral of the power beside it (view register_off, with the uncertainty and when there
-- is no value): two instruments of one energy, whose disagreement is a fault of one of
-- them, or of their clocks.

select s.session_id, r.value, r.u as uncertainty, r.from_s, r.to_s, r.status, r.note
from session s join register_off r on s.session_id = r.session_id and r.quantity = 'pack'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
