-- figure: heater_peak
-- title:  Peak heater power
-- unit:   kW
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), plug_in(session_id, t_s), heater(session_id, t_s, line, kw),
--         basis(session_id, quantity, u_rel, step_kw, noted, basis_name)
-- method: definition is ours
--
-- The highest mean over 10 s of the power of the pack's heater after the plug-in; of
-- a log with longer intervals, the highest row. The 10 s take out single readings
-- that are off (ours). Uncertainty: the instrument and the last digit. There is no
-- value where the heater was not logged.

with

smoothed as (
    select h.*, p.t_s as plug_s, avg(h.kw) over (partition by h.session_id order by h.t_s range between 9.5 preceding and current row) as mean_kw
    from heater h join plug_in p using (session_id)
    where h.t_s >= p.t_s
),

top as (
    select * from smoothed qualify row_number() over (partition by session_id order by mean_kw desc, t_s, line) = 1
)

select
    s.session_id,
    t.mean_kw as value,
    sqrt((b.u_rel * t.mean_kw) ** 2 + b.step_kw ** 2 / 12) as uncertainty,
    greatest(t.t_s - 9.5, t.plug_s) as from_s,
    t.t_s as to_s,
    case when t.mean_kw is null then 'none' when b.noted then 'fallback' else 'measured' end as status,
    case when t.mean_kw is null then 'the heater was not logged' else b.basis_name end as note
from session s
left join top t using (session_id)
left join basis b on s.session_id = b.session_id and b.quantity = 'heater'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
