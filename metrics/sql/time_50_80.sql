-- figure: time_50_80
-- title:  From 50 to 80 %
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), level_span(session_id, span, from_s, to_s, min, u_min, status, note)
-- method: definition is ours
--
-- From the display's 50 % to its 80 %, both after the onset (views crossing and
-- level_span): the slow end of a charge, to see what another window than the common one would make of the
-- cars. A log that shows more than 50 % when the charge begins, or ends below 80 %,
-- has no value.

select s.session_id, l.min as value, l.u_min as uncertainty, l.from_s, l.to_s, l.status, l.note
from session s
join level_span l on s.session_id = l.session_id and l.span = '50-80'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
