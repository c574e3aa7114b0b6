-- figure: time_10_50
-- title:  From 10 to 50 %
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), level_span(session_id, span, from_s, to_s, min, u_min, status, note)
-- method: definition is ours
--
-- From the display's 10 % to its 50 %, both after the onset (views crossing and
-- level_span): the fast half of a charge, to see what another window than the common one would make of the
-- cars. A log that shows more than 10 % when the charge begins, or ends below 50 %,
-- has no value.

select s.session_id, l.min as value, l.u_min as uncertainty, l.from_s, l.to_s, l.status, l.note
from session s
join level_span l on s.session_id = l.session_id and l.span = '10-50'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
