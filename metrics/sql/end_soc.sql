-- figure: end_soc
-- title:  Highest displayed charge
-- unit:   %
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), charge_level(session_id, t_s, held_pct, before_s, step_pct, told),
--         plug_in(session_id, t_s), unplugged(session_id, t_s)
-- method: definition is ours
--
-- The highest charge that the display showed after the plug-in, a leap in a single
-- row left out (view charge_level), up to the first row after the cable was pulled (view
-- unplugged): going downhill is no charge. Uncertainty: one step of the display, rectangular (JCGM 100, 4.3.7). There is no value where the
-- display was not logged or noted.

with

top as (
    select
        c.session_id, max(c.held_pct) as soc_pct, arg_max(c.t_s, c.held_pct * 1e7 - c.t_s) as t_s,
        max(c.step_pct) / sqrt(12) as u_pct, any_value(c.told) as told, any_value(p.t_s) as plug_s
    from charge_level c join plug_in p using (session_id) left join unplugged d using (session_id)
    where c.t_s >= p.t_s and coalesce(c.t_s < d.t_s or c.before_s < d.t_s, true)
    group by c.session_id
)

select
    s.session_id,
    t.soc_pct as value,
    t.u_pct as uncertainty,
    t.plug_s as from_s,
    t.t_s as to_s,
    case when t.soc_pct is null then 'none' when t.told is not null then 'fallback' else 'measured' end as status,
    case when t.soc_pct is null then 'no displayed charge after the plug-in' else t.told end as note
from session s left join top t using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
