-- view:   plug_in
-- title:  The plug-in that the charge came from
-- reads:  session(session_id, zero, zero_u_s), attempt(session_id, line, kind, t_s, width_s), onset(session_id, t_s),
--         inlet(session_id, t_s, kw)
--
-- The session clock starts at the first plug-in. Where an attempt failed (a
-- latch failure or an unplug before the pack took energy, view attempt) and the car was
-- plugged in again, the charge came from the first plug-in after the last such
-- failure: what was lost before it is the site's, not the car's, and a figure of
-- its own. Notes of one minute count in the order of their lines. A plug-in that
-- is noted beside the one that session.toml states is the same one.
-- Where the charge came and nobody noted the second plug-in (guessed), it lies
-- between the failure and the first power from the charger, 0.1 kW (ours), or else
-- the onset: the middle, and a rectangular distribution (JCGM 100, 4.3.7).
-- t_us is t_s in whole microseconds; the half one of a middle is left out, so that it lies
-- at or before t_s and not on a row after it.

with

failures as (
    select e.session_id, e.t_s, e.line, o.t_s as onset_s
    from attempt e left join onset o using (session_id)
    where e.kind <> 'plug-in' and e.t_s + e.width_s / 2 >= 0
    qualify row_number() over (partition by e.session_id order by e.t_s desc, e.line desc) = 1
),

again as (
    select e.session_id, e.t_s, e.width_s / sqrt(12) as u_s
    from attempt e join failures f using (session_id)
    where e.kind = 'plug-in' and (e.t_s, e.line) > (f.t_s, f.line)
    qualify row_number() over (partition by e.session_id order by e.t_s, e.line, e.width_s) = 1
),

unnoted as (
    select f.session_id, f.t_s as from_s, least(any_value(f.onset_s), min(i.t_s)) as to_s
    from failures f
    left join inlet i on f.session_id = i.session_id and i.t_s > f.t_s and i.kw >= 0.1
    where f.onset_s is not null and f.session_id not in (select session_id from again)
    group by f.session_id, f.t_s
)

select
    s.session_id,
    coalesce(a.t_s, (g.from_s + g.to_s) / 2, 0) as t_s,
    coalesce(a.u_s, (g.to_s - g.from_s) / sqrt(12), s.zero_u_s) as u_s,
    coalesce(a.session_id, g.session_id) is not null as again,
    g.session_id is not null as guessed,
    floor(coalesce(a.t_s, (g.from_s + g.to_s) / 2, 0) * 1000000 + 0.25)::bigint as t_us
from session s
left join again a using (session_id)
left join unnoted g using (session_id)
where s.zero is not null
order by s.session_id
