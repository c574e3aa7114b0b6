-- figure: energy_before_onset_at_reference
-- title:  Energy from the charger before charge, at the reference soak
-- unit:   kWh
-- better: lower
-- procedure: cold-charge
-- reads:  session(session_id, procedure), at_reference(session_id, figure, value, u, status, note)
-- method: definition is ours
--
-- The figure energy_before_onset as it would have been after a soak at the protocol's
-- reference temperature, so that a mild night gets no bonus: by a thermal model of the
-- session, or else a line through the car's own sessions (view at_reference, with the
-- uncertainty). Where there is neither, or no raw value, there is none, and the note says
-- why.

select s.session_id, a.value, a.u as uncertainty, null::double as from_s, null::double as to_s, a.status, a.note
from session s join at_reference a on s.session_id = a.session_id and a.figure = 'energy_before_onset'
where s.procedure = 'cold-charge'
order by s.session_id
