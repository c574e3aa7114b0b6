-- figure: onset_step
-- title:  Power when the charge begins
-- unit:   kW
-- better: higher
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), onset(session_id, status, to_s, u_s, worse),
--         power(session_id, t_us, kw, u_abs_kw, before_kw), basis(session_id, quantity, u_rel, step_kw, basis_name), protocol(onset_sustained_s)
-- method: definition is ours
--
-- The size of the step at the onset: the mean power into the pack over the first
-- onset_sustained_s of the charge, less that of the last row before it. A pack that
-- was heated enough steps from nothing to 20 kW and more (common practice, no source).
-- Uncertainty: the instrument, the last digit, what the power changed in that time as a
-- rectangle for each row (JCGM 100, 4.3.7), and as much of it as the onset's own
-- uncertainty is of that time.
-- There is no value where the onset is only seen or shown.

with

first_rows as (
    select
        p.session_id, avg(p.kw) as kw, max(p.kw) - min(p.kw) as change_kw, count(*) as n, any_value(o.u_s) as u_s, any_value(x.onset_sustained_s) as lasts_s, max(b.u_rel) as u_rel, max(b.step_kw) as step_kw, max(p.u_abs_kw) as u_abs_kw,
        any_value(o.to_s) as from_s, max(p.t_us) / 1e6 as to_s, any_value(b.basis_name) as basis_name, bool_or(o.worse) as worse,
        max(case when p.t_us = o.to_us then p.before_kw end) as before_kw
    from power p join (select *, (to_s * 1000000)::bigint as to_us from onset) o using (session_id) join basis b on p.session_id = b.session_id and b.quantity = 'pack' cross join protocol x
    where o.status = 'found' and p.t_us between o.to_us and o.to_us + (x.onset_sustained_s * 1000000)::bigint
    group by p.session_id
)

select
    s.session_id,
    f.kw - coalesce(f.before_kw, 0) as value,
    sqrt((f.u_rel * f.kw) ** 2 + f.step_kw ** 2 / 12 + f.u_abs_kw ** 2 + f.change_kw ** 2 * (1.0 / 12 / f.n + (f.u_s / f.lasts_s) ** 2)) as uncertainty,
    f.from_s,
    f.to_s,
    case when f.kw is null then 'none' when f.worse then 'fallback' else 'measured' end as status,
    case when f.kw is null then 'no onset was found in rows of power' else f.basis_name end as note
from session s
left join first_rows f using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
