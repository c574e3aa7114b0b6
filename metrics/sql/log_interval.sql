-- figure: log_interval
-- title:  Interval of the power log
-- unit:   s
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), power(session_id, t_us, before_us), basis(session_id, quantity, noted), plug_in(session_id, t_us)
-- method: definition is ours
--
-- Median time between two rows, after the plug-in, of the source that the power
-- into the pack comes from. Rows of one moment, as where a logger writes each twice,
-- are one. Precedent for asking: 40 CFR 1066.710, at least one
-- row every 60 s. There is no value for a session that is known from notes, which
-- have no interval, and none without rows of at least three moments.
-- Uncertainty: half the spread of the middle half of the intervals.

with

steps as (
    select p.session_id, b.noted, p.t_us, case when p.before_us >= i.t_us and p.t_us > p.before_us then p.t_us - p.before_us end as us
    from power p join plug_in i using (session_id) join basis b on p.session_id = b.session_id and b.quantity = 'pack'
    where p.t_us >= i.t_us
),

spread as (
    select
        session_id, bool_or(noted) as noted, count(us) as n, quantile_cont(us, [0.25, 0.5, 0.75]) as quartiles_us,
        min(t_us) / 1e6 as from_s, max(t_us) / 1e6 as to_s
    from steps
    group by session_id
)

select
    s.session_id,
    case when not p.noted and p.n >= 2 then p.quartiles_us[2] / 1e6 end as value,
    case when not p.noted and p.n >= 2 then (p.quartiles_us[3] - p.quartiles_us[1]) / 2e6 end as uncertainty,
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
