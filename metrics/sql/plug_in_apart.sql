-- figure: plug_in_apart
-- title:  Stated plug-in off the noted one
-- unit:   s
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure, zero_u_s), event(session_id, kind, t_s, width_s)
-- method: definition is ours
--
-- How far the session's zero lies from the nearest plug-in that a note or a charger
-- tells of, beyond the minute or so that this is wide: a zero that session.toml states
-- and nobody noted there is a slip of the pen more often than not, and every time that
-- counts from it is as wrong. The standard uncertainty is the zero's. There is no value
-- where no plug-in was noted.

with

nearest as (
    select session_id, min(greatest(abs(t_s) - width_s / 2, 0)) as s, arg_min(t_s, (abs(t_s), t_s)) as t_s
    from event
    where kind = 'plug-in' and t_s is not null
    group by session_id
)

select
    s.session_id,
    n.s as value,
    case when n.s is not null then s.zero_u_s end as uncertainty,
    case when n.s is not null then least(n.t_s, 0) end as from_s,
    case when n.s is not null then greatest(n.t_s, 0) end as to_s,
    case when n.s is not null then 'measured' else 'none' end as status,
    case when n.s is null then 'no plug-in was noted' end as note
from session s left join nearest n using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
