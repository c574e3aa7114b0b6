-- figure: unlogged_time
-- title:  Silence of the power log before and in the charge
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), energy(session_id, quantity, span, from_s, unbridged_s), peak(session_id, end_s),
--         basis(session_id, quantity, noted), onset(session_id, t_s), power_span(session_id, last_s)
-- method: definition is ours
--
-- From the plug-in to the end of the charge, the time that no row of the power into
-- the pack tells of: before its first row, and between rows too far apart to be joined
-- (view energy). What happened then is not known: a logger hung, or
-- its clock leapt ahead and stayed there, so that all that is counted over the gap is longer
-- than it was. Where no charge was found it goes to the last row. There is no value for
-- a session that is known from notes, nor where no power was logged, nor where the log
-- ends before the charge that somebody saw: nobody knows until when. It is as sure as
-- the times of the rows: no uncertainty.

with

spans as (
    select
        session_id, any_value(from_s) filter (where span = 'session') as from_s,
        max(unbridged_s) filter (where span = 'session') as session_s,
        sum(unbridged_s) filter (where span in ('before-onset', 'charge')) as charge_s,
        count(unbridged_s) filter (where span in ('before-onset', 'charge')) = 2 as charged
    from energy
    where quantity = 'pack'
    group by session_id
),

silent as (
    select
        x.session_id, x.from_s, case when x.charged then k.end_s end as to_s, round(case when x.charged then x.charge_s else x.session_s end, 3) / 60 as min,
        case
            when b.noted then 'known only from notes'
            when x.session_s is null then 'no power was logged'
            when o.t_s >= l.last_s then 'the log ends before the charge began'
        end as reason
    from spans x
    left join peak k on x.session_id = k.session_id
    left join basis b on x.session_id = b.session_id and b.quantity = 'pack'
    left join onset o on x.session_id = o.session_id
    left join power_span l on x.session_id = l.session_id
)

select
    s.session_id,
    case when x.reason is null then x.min end as value,
    case when x.reason is null then 0 end as uncertainty,
    x.from_s,
    x.to_s,
    case when x.reason is null then 'measured' else 'none' end as status,
    coalesce(x.reason, case when x.to_s is null then 'up to the last row, since no charge was found' end) as note
from session s join silent x on s.session_id = x.session_id
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
