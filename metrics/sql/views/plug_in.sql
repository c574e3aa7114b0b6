-- view:   plug_in
-- title:  The plug-in that the charge came from
-- reads:  session(session_id, zero, zero_u_s), event(session_id, kind, t_s, width_s), onset(session_id, t_s)
--
-- The session clock starts at the first plug-in. Where an attempt failed (a
-- latch failure or an unplug before the pack took energy) and the car was
-- plugged in again, the charge came from the first plug-in after the last such
-- failure: what was lost before it is the site's, not the car's, and a figure of
-- its own. A plug-in that is noted beside the one that session.toml states is
-- the same one.

with

failures as (
    select e.session_id, max(e.t_s) as failed_s
    from event e left join onset o using (session_id)
    where e.kind in ('latch-failure', 'unplug') and e.t_s >= 0 and e.t_s < coalesce(o.t_s, 'infinity'::double)
    group by e.session_id
),

again as (
    select e.session_id, min(e.t_s) as t_s, arg_min(e.width_s, e.t_s) / sqrt(12) as u_s
    from event e
    join failures f using (session_id)
    left join onset o using (session_id)
    where e.kind = 'plug-in' and e.t_s > f.failed_s and e.t_s < coalesce(o.t_s, 'infinity'::double)
    group by e.session_id
)

select s.session_id, coalesce(a.t_s, 0) as t_s, coalesce(a.u_s, s.zero_u_s) as u_s, a.session_id is not null as again
from session s left join again a using (session_id)
where s.zero is not null
order by s.session_id
