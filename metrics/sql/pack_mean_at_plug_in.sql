-- figure: pack_mean_at_plug_in
-- title:  Pack at plug-in, mean
-- unit:   °C
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure),
--         pack_temp_near(session_id, moment, moment_s, t_s, line, mean_c, mean_is, noted, u_c)
-- method: definition is ours
--
-- The mean of the pack's sensors at the plug-in: the last row before it that is not
-- older than 120 s (the channel's hold), else the first within 120 s after. Where no
-- mean is logged, the middle of the coldest and the hottest sensor stands for it, with
-- 1 K more of uncertainty (ours); a single sensor does so as a fallback.

with

near as (
    select t.*
    from pack_temp_near t
    where t.moment = 'plug-in'
    qualify row_number() over (partition by t.session_id order by t.t_s > t.moment_s, abs(t.t_s - t.moment_s), t.line) = 1
)

select
    s.session_id,
    n.mean_c as value,
    sqrt(n.u_c ** 2 + case when n.mean_is = 'mean of the sensors' then 0 else 1 end) as uncertainty,
    n.t_s as from_s,
    n.t_s as to_s,
    case when n.mean_c is null then 'none' when n.noted or n.mean_is = 'one sensor' then 'fallback' else 'measured' end as status,
    case when n.mean_c is null then 'no pack temperature near the plug-in' when n.noted then 'from notes' else n.mean_is end as note
from session s left join near n using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
