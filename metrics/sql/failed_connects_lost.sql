-- figure: failed_connects_lost
-- title:  Lost to failed connections
-- unit:   min
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure, zero_u_s), plug_in(session_id, t_s, u_s, again, guessed)
-- method: definition is ours
--
-- From the first plug-in to the plug-in that the charge came from (view plug_in), 0
-- where the first attempt held. It is the site's loss, or the frost's in the
-- socket, and not ranked. Never force a frozen connector.

select
    s.session_id,
    coalesce(p.t_s, 0) / 60 as value,
    case when p.again then sqrt(p.u_s ** 2 + s.zero_u_s ** 2) / 60 else 0 end as uncertainty,
    0::double as from_s,
    coalesce(p.t_s, 0) as to_s,
    case when p.guessed then 'fallback' else 'measured' end as status,
    case when p.guessed then 'the plug-in after the failed one was not noted and lies between' end as note
from session s left join plug_in p using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
