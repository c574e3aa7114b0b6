-- figure: delay_to_10kw
-- title:  Plug-in to 10 kW
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), plug_in(session_id, t_s, u_s), smooth(session_id, t_us, mean_kw, before_us),
--         power_span(session_id, last_s), basis(session_id, quantity, offset_u_s, worse, basis_name), onset(session_id, t_us)
-- method: definition is ours
--
-- From the plug-in that led to the charge to the first mean over 10 s (view smooth) of
-- at least 10 kW into the pack, once the charge has begun: a charge worth waiting
-- for (ours). It lies after the row before, and the width is a rectangular
-- distribution (JCGM 100, 4.3.7), with half of the 10 s, the clock of its source and
-- the moment of the plug-in. A charge that never got there is longer than its log:
-- status beyond. There is no value where power into the pack is not known.

with

reached as (
    select m.session_id, min(m.t_us) / 1e6 as t_s, min(coalesce(m.before_us, m.t_us)) / 1e6 as before_s
    from smooth m join onset o using (session_id)
    where m.mean_kw >= 10 and m.t_us >= o.t_us
    group by m.session_id
),

sources as (
    select b.session_id, b.offset_u_s, b.worse, b.basis_name, l.last_s
    from basis b join power_span l using (session_id)
    where b.quantity = 'pack'
)

select
    s.session_id,
    case when r.t_s is not null then (r.before_s + r.t_s) / 2 - i.t_s when k.last_s > i.t_s then k.last_s - i.t_s end / 60 as value,
    sqrt((r.t_s - r.before_s) ** 2 / 12 + 5 ** 2 / 3 + k.offset_u_s ** 2 + i.u_s ** 2) / 60 as uncertainty,
    i.t_s as from_s,
    coalesce(r.t_s, k.last_s) as to_s,
    case
        when r.t_s is not null then case when k.worse then 'fallback' else 'measured' end
        when k.last_s > i.t_s then 'beyond'
        else 'none'
    end as status,
    case
        when r.t_s is not null then k.basis_name
        when k.last_s is null then 'power into the pack is not known'
        else case when k.last_s > i.t_s then 'the pack had not taken 10 kW when the log ended' else 'no power was logged after the plug-in' end
    end as note
from session s
left join plug_in i using (session_id)
left join reached r using (session_id)
left join sources k using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
