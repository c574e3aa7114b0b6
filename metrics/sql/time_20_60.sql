-- figure: time_20_60
-- title:  From 20 to 60 %
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), level_span(session_id, span, from_s, to_s, min, u_min, status, note)
-- method: definition is ours
--
-- From the display's 20 % to its 60 %, both after the onset (views crossing and
-- level_span): a window that a short stop fills, to see what another window than the common one would make of the
-- cars. A log that shows more than 20 % when the charge begins, or ends below 60 %,
-- has no value.

select s.session_id, l.min as value, l.u_min as uncertainty, l.from_s, l.to_s, l.status, l.note
from session s
join level_span l on s.session_id = l.session_id and l.span = '20-60'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
