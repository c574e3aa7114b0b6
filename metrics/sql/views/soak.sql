-- view:   soak
-- title:  The interval for which the car stood outside
-- reads:  session(session_id, soak_start, zero), event(session_id, kind, t_s, width_s), plug_in(session_id, t_s, u_s)
--
-- From what session.toml states, else from the last soak-start event before the
-- plug-in. People state it to the minute: 60 s wide unless an event says.

with

noted as (
    select e.session_id, max(e.t_s) as t_s, arg_max(e.width_s, (e.t_s, e.width_s)) as width_s
    from event e join plug_in p using (session_id)
    where e.kind = 'soak-start' and e.t_s < p.t_s
    group by e.session_id
)

select
    s.session_id,
    coalesce((epoch_us(s.soak_start) - epoch_us(s.zero)) / 1e6, n.t_s) as from_s,
    p.t_s as to_s,
    sqrt(case when s.soak_start is null then n.width_s else 60 end ** 2 / 12 + p.u_s ** 2) as u_s
from session s
join plug_in p using (session_id)
left join noted n using (session_id)
order by s.session_id
