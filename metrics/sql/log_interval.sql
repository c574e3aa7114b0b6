-- figure: log_interval
-- title:  Interval of the power log
-- unit:   s
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), power(session_id, t_s, line), basis(session_id, quantity, noted), plug_in(session_id, t_s)
-- method: definition is ours
--
-- Median time between two rows, after the plug-in, of the source that the power
-- into the pack comes from. Precedent for asking: 40 CFR 1066.710, at least one
-- row every 60 s. There is no value for a session that is known from notes, which
-- have no interval, and none without at least three rows.
-- Uncertainty: half the spread of the middle half of the intervals.

with

steps as (
    select p.session_id, b.noted, p.t_s, p.t_s - lag(p.t_s) over (partition by p.session_id order by p.t_s, p.line) as dt_s
    from power p join plug_in i using (session_id) join basis b on p.session_id = b.session_id and b.quantity = 'pack'
    where p.t_s >= i.t_s
),

spread as (
    select
        session_id, bool_or(noted) as noted, count(dt_s) as n, median(dt_s) as mid_s,
        (quantile_cont(dt_s, 0.75) - quantile_cont(dt_s, 0.25)) / 2 as u_s,
        min(t_s) as from_s, max(t_s) as to_s
    from steps
    group by session_id
)

select
    s.session_id,
    case when not p.noted and p.n >= 2 then p.mid_s end as value,
    case when not p.noted and p.n >= 2 then p.u_s end as uncertainty,
    p.from_s,
    p.to_s,
    case when not p.noted and p.n >= 2 then 'measured' else 'none' end as status,
    case
        when p.n is null then 'no power was logged'
        when p.noted then 'known only from notes'
        when p.n < 2 then 'fewer than three rows of power'
    end as note
from session s left join spread p using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
