-- figure: pause_time
-- title:  Pauses of the charge
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), onset(session_id, t_s), phase(session_id, phase, from_s, to_s), peak(session_id, end_s)
-- method: definition is ours
--
-- For how long the pack took less than onset_kw between the onset and the end of the
-- charge, in pauses of at least onset_sustained_s (view phase): a charger that stopped, a
-- car that took fright. 0 where it never paused. There is no value without an onset.
-- Uncertainty: 10 s at each end of each pause (ours).

with

pauses as (
    select session_id, sum(to_s - from_s) as s, count(*) as n from phase where phase = 'pause' group by session_id
)

select
    s.session_id,
    case when o.t_s is not null and e.end_s is not null then coalesce(p.s, 0) / 60 end as value,
    case when o.t_s is not null and e.end_s is not null then sqrt(2 * coalesce(p.n, 0)) * 10 / 60 end as uncertainty,
    o.t_s as from_s,
    e.end_s as to_s,
    case when o.t_s is null or e.end_s is null then 'none' else 'measured' end as status,
    case when o.t_s is null or e.end_s is null then 'no onset was found in rows of power' when p.n > 0 then format('{} pause{}', p.n, case when p.n > 1 then 's' else '' end) end as note
from session s
left join onset o using (session_id)
left join pauses p using (session_id)
left join peak e using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
