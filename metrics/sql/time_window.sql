-- figure: time_window
-- title:  Time over the common window
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), level_span(session_id, span, from_s, to_s, min, u_min, status, note)
-- method: definition is ours
--
-- From the display's lower to its upper end of the common window, both after the
-- onset (view crossing). The window is the protocol's, or the largest that every
-- session that may be ranked covers; the edition says which. The delay is not in it.
-- A log that does not cover the window has no value. Where the display shows just the
-- lower end at the onset, the time counts from the onset, with one step of the
-- display and the onset's own uncertainty. Pauses count.

select s.session_id, l.min as value, l.u_min as uncertainty, l.from_s, l.to_s, l.status, l.note
from session s
join level_span l on s.session_id = l.session_id and l.span = 'common'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
