-- figure: charger_limited
-- title:  Held back by the charger
-- unit:   min
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure, charger_kw), onset(session_id, t_s), limited(session_id, from_s, to_s, held_by, doubtful_s),
--         basis(session_id, quantity, derived), reading(session_id, charger_limit_kw)
-- method: definition is ours
--
-- For how long after the onset the charger, not the car, held the power (view limited):
-- the unit's rating or its offer, reached within 3 %. What a car could have done on a
-- better unit is not known then, and times and powers of such a session flatter nobody.
-- Uncertainty: a row at each end of each span, taken as 10 s each (ours), and half of
-- the time in which the instrument's own uncertainty decides, of which half counts. There is no
-- value where the power at the inlet was not measured by itself, or neither rating nor offer is known.

with

spans as (
    select session_id, sum(to_s - from_s - doubtful_s / 2) as s, sum(doubtful_s) / 2 as u_s, count(*) as n, min(from_s) as from_s, max(to_s) as to_s, string_agg(distinct held_by, ' and ' order by held_by) as held_by
    from limited
    group by session_id
),

known as (
    select
        s.session_id,
        case
            when o.t_s is null then 'no onset was found'
            when i.session_id is null then 'no power at the inlet is known'
            when i.derived then 'the power at the inlet was not measured by itself'
            when coalesce(s.charger_kw, 0) <= 0 and s.session_id not in (select session_id from reading where charger_limit_kw is not null)
                then 'neither what the charger is rated for nor what it offered is known'
        end as reason
    from session s
    left join onset o using (session_id)
    left join basis i on s.session_id = i.session_id and i.quantity = 'inlet'
)

select
    s.session_id,
    case when k.reason is null then coalesce(l.s, 0) / 60 end as value,
    case when k.reason is null then sqrt(2 * coalesce(l.n, 0) * 10 ** 2 + coalesce(l.u_s, 0) ** 2) / 60 end as uncertainty,
    coalesce(l.from_s, o.t_s) as from_s,
    coalesce(l.to_s, o.t_s) as to_s,
    case when k.reason is null then 'measured' else 'none' end as status,
    coalesce(k.reason, case when l.n > 0 then format('at {}, in {} span{}', l.held_by, l.n, case when l.n > 1 then 's' else '' end) end) as note
from session s
left join onset o using (session_id)
join known k using (session_id)
left join spans l using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
