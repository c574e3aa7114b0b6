-- figure: heater_peak
-- title:  Peak heater power
-- unit:   kW
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), plug_in(session_id, t_us), unplugged(session_id, t_us), heater(session_id, t_us, kw),
--         basis(session_id, quantity, u_rel, step_kw, noted, basis_name)
-- method: definition is ours
--
-- The highest mean over 10 s of the power of the pack's heater after the plug-in and
-- before the cable is pulled (view unplugged); of
-- a log with longer intervals, the highest row. The 10 s take out single readings
-- that are off (ours). Uncertainty: the instrument and the last digit. There is no
-- value where the heater was not logged.

with

-- The heater is off for most of a charge: rows after its last are no peak.
heated as materialized (
    select h.session_id, p.t_us as plug_us, max(h.t_us) as last_us
    from heater h join plug_in p using (session_id) left join unplugged d using (session_id)
    where h.t_us >= p.t_us and h.kw > 0 and coalesce(h.t_us < d.t_us, true)
    group by h.session_id, p.t_us
),

smoothed as materialized (
    select h.session_id, h.t_us, avg(h.kw) over (partition by h.session_id order by h.t_us range between 9500000 preceding and current row) as mean_kw
    from heater h join heated x using (session_id)
    where h.t_us between x.plug_us and x.last_us
),

highest as (
    select session_id, max(mean_kw) as mean_kw from smoothed group by session_id
),

top as (
    select s.session_id, s.mean_kw, min(s.t_us) as t_us, any_value(x.plug_us) as plug_us
    from smoothed s join highest h on s.session_id = h.session_id and s.mean_kw = h.mean_kw join heated x on s.session_id = x.session_id
    group by s.session_id, s.mean_kw
)

select
    s.session_id,
    t.mean_kw as value,
    sqrt((b.u_rel * t.mean_kw) ** 2 + b.step_kw ** 2 / 12) as uncertainty,
    greatest(t.t_us - 9500000, t.plug_us) / 1e6 as from_s,
    t.t_us / 1e6 as to_s,
    case when t.mean_kw is null then 'none' when b.noted then 'fallback' else 'measured' end as status,
    case when t.mean_kw is null then 'the heater was not logged' else b.basis_name end as note
from session s
left join top t using (session_id)
left join basis b on s.session_id = b.session_id and b.quantity = 'heater'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
