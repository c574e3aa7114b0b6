-- figure: power_at_80
-- title:  Power at 80 %
-- unit:   kW
-- better: higher
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), level_power(session_id, level_pct, value, u, from_s, to_s, status, note)
-- method: definition is ours
--
-- Mean over 10 s of the power into the pack when the display passed 80 % (view
-- level_power, with the uncertainty). Near 80 % a healthy car is down to about 50 kW (common practice, no source).
-- There is no value where the display did not pass 80 % after the onset, or no row of
-- power lies near it.

select s.session_id, l.value, l.u as uncertainty, l.from_s, l.to_s, l.status, l.note
from session s join level_power l on s.session_id = l.session_id and l.level_pct = 80
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
