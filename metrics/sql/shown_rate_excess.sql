-- figure: shown_rate_excess
-- title:  Displayed charge rate above the real one
-- unit:   %
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure, vehicle_id), vehicle(vehicle_id, rated_wh_km), onset(session_id, t_s, t_us), peak(session_id, end_s),
--         reading(session_id, source_id, t_us, line, shown_rate_km_h), smooth(session_id, t_us, mean_kw, hold_s),
--         basis(session_id, quantity, u_rel, worse, basis_name)
-- method: definition is ours
--
-- By how much the charge rates that the car displayed between onset and end of the
-- charge, in range an hour times its rated consumption, were above the power into the
-- pack at the same moments: the median of their ratios, less 1. Moments with less than
-- 5 kW do not count (ours). Uncertainty: the power's instrument, and the spread of the
-- ratios, 1.4826 times the median of their distances from the median, over the root of
-- their number (normal distribution). There is no value with fewer than three of them.

with

pairs as materialized (
    select r.session_id, r.t_us, r.shown_rate_km_h * v.rated_wh_km / 1000 as shown_kw, o.t_s as onset_s
    from reading r
    join session s using (session_id)
    join vehicle v using (vehicle_id)
    join onset o on r.session_id = o.session_id
    join peak p on r.session_id = p.session_id
    where r.shown_rate_km_h is not null and v.rated_wh_km > 0 and r.t_us between o.t_us and (p.end_s * 1000000)::bigint
),

ratios as (
    select p.session_id, p.t_us, p.onset_s, p.shown_kw / m.mean_kw as ratio
    from pairs p asof join (select m.* from smooth m semi join pairs using (session_id)) m on p.session_id = m.session_id and p.t_us >= m.t_us
    where p.t_us - m.t_us <= (m.hold_s * 1000000)::bigint and m.mean_kw >= 5
),

middles as (
    select session_id, median(ratio) as ratio, mad(ratio) as off, count(*) as n, min(onset_s) as from_s, max(t_us) / 1e6 as to_s from ratios group by session_id
),

sources as (
    select * from basis where quantity = 'pack'
)

select
    s.session_id,
    case when m.n >= 3 then 100 * (m.ratio - 1) end as value,
    case when m.n >= 3 then 100 * sqrt((k.u_rel * m.ratio) ** 2 + (1.4826 * m.off) ** 2 / m.n) end as uncertainty,
    m.from_s,
    m.to_s,
    case when m.n >= 3 then case when k.worse then 'fallback' else 'measured' end else 'none' end as status,
    case when m.n >= 3 then k.basis_name else 'fewer than three displayed rates have a power beside them' end as note
from session s
left join middles m using (session_id)
left join sources k using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
