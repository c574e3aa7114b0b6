-- figure: failed_connects
-- title:  Failed connections
-- unit:   1
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), event(session_id, kind, t_s, width_s), onset(session_id, t_s)
-- method: definition is ours
--
-- How many attempts to connect failed before the pack took energy: latch failures,
-- and plugs pulled again, that notes or a charger told of. An attempt that nobody
-- noted is not counted, so a count of nothing is as good as the notes are. Never force
-- a frozen connector. It is the site's or the frost's, and not ranked.

with

failures as (
    select e.session_id, count(*) as n, min(e.t_s) as from_s, max(e.t_s) as to_s
    from event e left join onset o using (session_id)
    where e.kind in ('latch-failure', 'unplug') and e.t_s + e.width_s / 2 >= 0 and e.t_s < coalesce(o.t_s, 'infinity'::double)
    group by e.session_id
)

select
    s.session_id,
    coalesce(f.n, 0) as value,
    0 as uncertainty,
    f.from_s,
    f.to_s,
    'measured' as status,
    null::varchar as note
from session s left join failures f using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
