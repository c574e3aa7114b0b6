-- figure: failed_connects
-- title:  Failed connections
-- unit:   1
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), attempt(session_id, source_id, line, kind, t_s, width_s)
-- method: definition is ours
--
-- How many attempts to connect failed before the pack took energy: latch failures,
-- and plugs pulled again, that notes or a charger told of (view attempt). A plug that is pulled
-- after a latch failure, without having been plugged in since, ends the attempt
-- that failed and is none of its own; nor is what another source told of within a
-- minute (ours). An attempt that nobody noted is not counted, so a count of nothing
-- is as good as the notes are. Never force a frozen connector. It is the site's or
-- the frost's, and not ranked.

with

-- Of one moment, as of one line of notes: plugged in, failed, pulled.
tried as (
    select
        e.*,
        lag(e.kind) over w as before_kind,
        lag(e.source_id) over w <> e.source_id and e.t_s - lag(e.t_s) over w <= 60 as told_twice
    from attempt e
    where e.t_s + e.width_s / 2 >= 0
    window w as (partition by e.session_id order by e.t_s, e.line, case e.kind when 'plug-in' then 1 when 'latch-failure' then 2 else 3 end, e.source_id)
),

failures as (
    select session_id, count(*) as n, min(t_s) as from_s, max(t_s) as to_s
    from tried
    where kind <> 'plug-in' and not coalesce(kind = 'unplug' and before_kind = 'latch-failure' or kind = before_kind and told_twice, false)
    group by session_id
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
