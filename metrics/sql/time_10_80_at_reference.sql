-- figure: time_10_80_at_reference
-- title:  From plug-in to 80 %, from 10 %, at the reference soak
-- unit:   min
-- better: lower
-- procedure: cold-charge
-- reads:  session(session_id, procedure), at_reference(session_id, figure, value, u, status, note)
-- method: definition is ours
--
-- The figure time_10_80_plug_in as it would have been after a soak at the protocol's
-- reference temperature, so that a mild night gets no bonus: by a thermal model of the
-- session, or else a line through the car's own sessions (view at_reference, with the
-- uncertainty). Where there is neither, or no raw value, there is none, and the note says
-- why.

select s.session_id, a.value, a.u as uncertainty, null::double as from_s, null::double as to_s, a.status, a.note
from session s join at_reference a on s.session_id = a.session_id and a.figure = 'time_10_80_plug_in'
where s.procedure = 'cold-charge'
order by s.session_id
