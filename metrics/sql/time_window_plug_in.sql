-- figure: time_window_plug_in
-- title:  From plug-in over the common window
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), level_span(session_id, span, to_s, min, u_min, from_onset, status, note),
--         onset(session_id, t_s, u_s), plug_in(session_id, t_s, u_s)
-- method: definition is ours
--
-- The delay from plug-in to onset and the time over the window of charge that all
-- compared cars cover, added: what a driver who arrives frozen at its lower end waits.
-- A log that does not cover the window has no value (view level_span). Pauses count.

select
    s.session_id,
    l.min + (o.t_s - p.t_s) / 60 as value,
    sqrt(l.u_min ** 2 + (case when l.from_onset then 0 else o.u_s end ** 2 + p.u_s ** 2) / 3600) as uncertainty,
    p.t_s as from_s,
    l.to_s,
    l.status,
    l.note
from session s
join level_span l on s.session_id = l.session_id and l.span = 'common'
left join onset o on s.session_id = o.session_id
left join plug_in p on s.session_id = p.session_id
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
