-- figure: onset_apart
-- title:  Charge noted before the log shows it
-- unit:   s
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), event(session_id, kind, t_s, width_s), plug_in(session_id, t_s),
--         onset(session_id, status, t_s, u_s, from_s, to_s)
-- method: definition is ours
--
-- How long before the onset in the log somebody saw the charge begin, beyond the minute
-- or so that the note is wide: the first such note after the plug-in that the charge came
-- from, up to the last row below the onset. People see late, so a note after the onset is
-- 0; one well before it says that the log's clock leapt or is wrong, or that somebody took
-- the charger's power for the charge. The standard uncertainty is the onset's. There
-- is no value where nobody noted the charge, nor where the onset is not from a log.

with

noted as (
    select e.session_id, min(e.t_s) as t_s, min(e.t_s + e.width_s / 2) as latest_s
    from event e join plug_in p using (session_id)
    where e.kind = 'onset-seen' and e.t_s + e.width_s / 2 >= p.t_s
    group by e.session_id
),

-- Of a charge that the log does not show, it is known that it came after the last row.
logged as (
    select session_id, case status when 'found' then from_s else to_s end as t_s, coalesce(u_s, 0) as u_s
    from onset
    where status in ('found', 'beyond')
),

apart as (
    select n.session_id, greatest(l.t_s - n.latest_s, 0) as s, l.u_s, least(n.t_s, l.t_s) as from_s, greatest(n.t_s, l.t_s) as to_s
    from noted n join logged l using (session_id)
)

select
    s.session_id,
    a.s as value,
    case when a.s is not null then a.u_s end as uncertainty,
    a.from_s,
    a.to_s,
    case when a.s is not null then 'measured' else 'none' end as status,
    case
        when n.session_id is null then 'nobody noted the charge'
        when a.s is null then 'the onset is not from a log'
    end as note
from session s left join noted n using (session_id) left join apart a using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
