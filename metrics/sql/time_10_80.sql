-- figure: time_10_80
-- title:  From 10 to 80 %
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), level_span(session_id, span, from_s, to_s, min, u_min, status, note)
-- method: definition is ours
--
-- From the display's 10 % to its 80 %, both after the onset (view crossing). The
-- delay before the onset is not in it. The range is customary; no standard's
-- definition was found.
-- A log that shows more than 10 % when the charge begins, or ends below 80 %, has no
-- value: it is never guessed and never ranked. Where the display shows just 10 % at
-- the onset, the time counts from the onset, with one step of the display and
-- the onset's own uncertainty. Pauses count.

select s.session_id, l.min as value, l.u_min as uncertainty, l.from_s, l.to_s, l.status, l.note
from session s
join level_span l on s.session_id = l.session_id and l.span = '10-80'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
