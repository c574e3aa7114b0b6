-- figure: charger_limited
-- title:  Held back by the charger
-- unit:   min
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure, charger_kw), onset(session_id, t_s), limited(session_id, from_s, to_s, held_by, doubtful_s, before_gap_s, after_gap_s),
--         basis(session_id, quantity, derived, noted), inlet(session_id, t_us, before_us), reading(session_id, charger_limit_kw)
-- method: definition is ours
--
-- For how long after the onset the charger, not the car, held the power (view limited):
-- the unit's rating or its offer, reached within 3 %. What a car could have done on a
-- better unit is not known then, and times and powers of such a session flatter nobody.
-- Uncertainty: a row at each end of each span, taken as 10 s each (ours), and half of
-- the time in which the instrument's own uncertainty decides, of which half counts. From
-- notes, each end lies between two of them, in the middle, rectangular (JCGM 100, 4.3.7);
-- where none tells that the charger held the power, it may have between the two furthest
-- apart. There is no
-- value where the power at the inlet was not measured by itself, or neither rating nor offer is known.

with

spans as (
    select
        l.session_id, count(*) as n, min(l.from_s) as from_s, max(l.to_s) as to_s, string_agg(distinct l.held_by, ' and ' order by l.held_by) as held_by,
        sum(l.to_s - l.from_s - l.doubtful_s / 2 + case when b.noted then (l.before_gap_s + l.after_gap_s) / 2 else 0 end) as s,
        sum(l.doubtful_s) / 2 as u_s, sum(case when b.noted then (l.before_gap_s ** 2 + l.after_gap_s ** 2) / 12 else 2 * 10 ** 2 end) as ends_s2
    from limited l join basis b on l.session_id = b.session_id and b.quantity = 'inlet'
    group by l.session_id
),

noted as (
    select i.session_id, max(i.t_us - i.before_us) / 1e6 as apart_s
    from inlet i join onset o using (session_id)
    where i.before_us / 1e6 >= o.t_s and i.session_id in (select session_id from basis where quantity = 'inlet' and noted)
    group by i.session_id
),

known as (
    select
        s.session_id, coalesce(i.noted, false) as noted,
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
    case when k.reason is null then sqrt(coalesce(l.ends_s2, a.apart_s ** 2 / 12, 0) + coalesce(l.u_s, 0) ** 2) / 60 end as uncertainty,
    coalesce(l.from_s, o.t_s) as from_s,
    coalesce(l.to_s, o.t_s) as to_s,
    case when k.reason is not null then 'none' when k.noted then 'fallback' else 'measured' end as status,
    coalesce(
        k.reason,
        case when l.n > 0 then format('{}at {}, in {} span{}', case when k.noted then 'from notes, ' else '' end, l.held_by, l.n, case when l.n > 1 then 's' else '' end) end,
        case when k.noted then 'from notes' end) as note
from session s
left join onset o using (session_id)
join known k using (session_id)
left join spans l using (session_id)
left join noted a using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
