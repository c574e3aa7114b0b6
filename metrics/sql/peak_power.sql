-- figure: peak_power
-- title:  Peak power into the pack
-- unit:   kW
-- better: higher
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), power(session_id, t_s, line, kw, u_rel, u_abs_kw, step_kw, worse, basis_name, noted),
--         plug_in(session_id, t_s)
-- method: definition is ours
--
-- The highest mean over 10 s of the net power into the pack after the plug-in; of a
-- log with longer intervals, the highest row. The 10 s take out single readings that
-- are off (ours).
-- Uncertainty: the instrument, the last digit, and a quarter of the step to the
-- higher of the two neighbours, since the peak may lie between two rows; of
-- notes, a tenth of the value, since people note now and then (ours).
-- There is no value where power into the pack is not known.

with

smooth as (
    select
        p.*, i.t_s as plug_s,
        avg(p.kw) over (partition by p.session_id order by p.t_s range between 9.5 preceding and current row) as mean_kw
    from power p join plug_in i using (session_id)
    where p.t_s >= i.t_s
),

beside as (
    select
        *,
        greatest(lag(mean_kw) over (partition by session_id order by t_s, line), lead(mean_kw) over (partition by session_id order by t_s, line)) as beside_kw
    from smooth
),

peak as (
    select *
    from beside
    qualify row_number() over (partition by session_id order by mean_kw desc, t_s) = 1
)

select
    s.session_id,
    p.mean_kw as value,
    sqrt((p.u_rel * p.mean_kw) ** 2 + p.u_abs_kw ** 2 + p.step_kw ** 2 / 12 + ((p.mean_kw - coalesce(p.beside_kw, p.mean_kw)) / 4) ** 2
        + case when p.noted then 0.1 * p.mean_kw else 0 end ** 2) as uncertainty,
    greatest(p.t_s - 9.5, p.plug_s) as from_s,
    p.t_s as to_s,
    case when p.mean_kw is null then 'none' when p.worse then 'fallback' else 'measured' end as status,
    case when p.mean_kw is null then 'power into the pack is not known' else p.basis_name end as note
from session s left join peak p using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
