-- view:   air_at
-- title:  The air at the plug-in by each instrument
-- reads:  plug_in(session_id, t_s), air(session_id, source_id, t_s, line, preference, instrument, hold_s, c, u_c)
--
-- For each instrument its last value before the plug-in, if it is not older than
-- its hold, else its first value after it, within 120 s.

select a.session_id, a.instrument, a.preference, a.t_s, a.c, a.u_c
from air a join plug_in p using (session_id)
where (a.t_s <= p.t_s and p.t_s - a.t_s <= a.hold_s) or (a.t_s > p.t_s and a.t_s - p.t_s <= 120)
qualify row_number() over (partition by a.session_id, a.instrument order by a.t_s > p.t_s, abs(a.t_s - p.t_s), a.line, a.source_id) = 1
order by a.session_id, a.instrument
