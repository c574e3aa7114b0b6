-- figure: pack_spread_at_plug_in
-- title:  Coldest to hottest at plug-in
-- unit:   K
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure),
--         pack_temp_near(session_id, moment, moment_s, t_s, line, min_c, max_c, noted, u_c)
-- method: definition is ours
--
-- Hottest less coldest pack sensor at the plug-in, of the row that
-- pack_mean_at_plug_in takes: a pack that is frozen through has hardly any. Two
-- sensors, each with its own error, which are taken as independent. There is no
-- value where one of the two was not logged near the plug-in.

with

near as (
    select t.*
    from pack_temp_near t
    where t.moment = 'plug-in' and t.min_c is not null and t.max_c is not null
    qualify row_number() over (partition by t.session_id order by t.t_s > t.moment_s, abs(t.t_s - t.moment_s), t.line) = 1
)

select
    s.session_id,
    n.max_c - n.min_c as value,
    sqrt(2) * n.u_c as uncertainty,
    n.t_s as from_s,
    n.t_s as to_s,
    case when n.max_c is null then 'none' when n.noted then 'fallback' else 'measured' end as status,
    case when n.max_c is null then 'coldest and hottest sensor were not both logged near the plug-in' when n.noted then 'from notes' end as note
from session s left join near n using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
