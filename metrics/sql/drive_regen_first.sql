-- figure: drive_regen_first
-- title:  Regeneration that the pack took after the soak
-- unit:   kW
-- better: higher
-- procedure: cold-drive, warm-drive
-- reads:  session(session_id, procedure), pulse(session_id, direction, kw, u_kw, from_s, to_s, status, note)
-- method: definition is ours
--
-- The highest mean over 10 s of the power into the pack in the first minutes of the
-- drive, drive_first_min of the protocol, 10 unless it says otherwise: later the pack is
-- warmer (view pulse, with the uncertainty).
-- What the driver did not ask for is not in it: brake once without the pedal'sn-- friction. A pack that took nothing has 0.
-- There is no value where the pack's power is not known, rows are more than 5 s apart
-- or missing, or the log ends before.

select
    s.session_id,
    p.kw as value,
    p.u_kw as uncertainty,
    p.from_s,
    p.to_s,
    coalesce(p.status, 'none') as status,
    coalesce(p.note, 'the log tells of no drive') as note
from session s
left join pulse p on s.session_id = p.session_id and p.direction = 'back'
where s.procedure in ('cold-drive', 'warm-drive')
order by s.session_id
