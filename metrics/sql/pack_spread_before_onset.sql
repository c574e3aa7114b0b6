-- figure: pack_spread_before_onset
-- title:  Widest coldest to hottest while heated
-- unit:   K
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), plug_in(session_id, t_s, t_us), onset(session_id, t_s, t_us),
--         pack_temp(session_id, t_us, min_c, max_c, noted, u_c)
-- method: definition is ours
--
-- The widest difference of hottest and coldest pack sensor between plug-in and
-- onset: how unevenly the heat arrives. Two sensors, each with its own error, which
-- are taken as independent. There is no value without an onset, and none where the
-- two were not logged in between.

with

heated as materialized (
    select t.session_id, t.t_us, t.max_c - t.min_c as spread_k, t.noted, t.u_c
    from pack_temp t join plug_in p using (session_id) join onset o using (session_id)
    where t.t_us >= p.t_us and t.t_us <= o.t_us
),

most as (
    select session_id, max(spread_k) as spread_k from heated group by session_id
),

widest as (
    select h.session_id, h.spread_k, min(h.t_us) / 1e6 as t_s, any_value(h.noted) as noted, any_value(h.u_c) as u_c
    from heated h join most m on h.session_id = m.session_id and h.spread_k = m.spread_k
    group by h.session_id, h.spread_k
)

select
    s.session_id,
    w.spread_k as value,
    sqrt(2) * w.u_c as uncertainty,
    case when w.session_id is not null then p.t_s end as from_s,
    case when w.session_id is not null then o.t_s end as to_s,
    case when w.spread_k is null then 'none' when w.noted then 'fallback' else 'measured' end as status,
    case
        when o.t_s is null then 'no onset was found'
        when w.spread_k is null then 'coldest and hottest sensor were not both logged before the onset'
        when w.noted then 'from notes'
        else format('at {:.0f} min after the plug-in', (w.t_s - p.t_s) / 60)
    end as note
from session s
left join plug_in p using (session_id)
left join onset o using (session_id)
left join widest w using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
