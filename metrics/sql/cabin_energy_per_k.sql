-- figure: cabin_energy_per_k
-- title:  Energy per kelvin that the cabin warmed
-- unit:   kWh/K
-- better: lower
-- procedure: cabin-warmup
-- reads:  session(session_id, procedure), warmup(session_id, status, noted, start_c, target_c, target_s, u_c, step_c, width_u_s, rate_k_s),
--         cabin_use(session_id, kwh, own_u_kwh, to_kw, worse, basis_name, reason)
-- method: definition is ours
--
-- The figure cabin_energy over the rise from the start to the protocol's target: what
-- stays to compare of two nights that were not equally cold. The last kelvin costs
-- more than the first, so a thermometer that is off counts by that difference only;
-- the energy's own uncertainty and the last digit come to it. There is no value where
-- the target was not reached, or one of the two is not known.

with

ratios as (
    select
        w.*, c.kwh / (w.target_c - w.start_c) as kwh_k, c.kwh, c.own_u_kwh, c.to_kw, c.worse, c.basis_name,
        c.to_kw / 3600 / w.rate_k_s as last_kwh_k,
        w.target_c - w.start_c as rise_k
    from warmup w join cabin_use c using (session_id)
    where w.status = 'reached' and w.start_c < w.target_c and c.kwh is not null
)

select
    s.session_id,
    r.kwh_k as value,
    sqrt((r.own_u_kwh / r.rise_k) ** 2
        + (r.u_c * (r.last_kwh_k - r.kwh_k) / r.rise_k) ** 2
        + r.step_c ** 2 / 12 * (r.kwh_k ** 2 + r.last_kwh_k ** 2) / r.rise_k ** 2
        + (r.to_kw * r.width_u_s / 3600 / r.rise_k) ** 2) as uncertainty,
    case when r.kwh_k is not null then 0 end as from_s,
    r.target_s as to_s,
    case when r.kwh_k is null then 'none' when r.worse or r.noted then 'fallback' else 'measured' end as status,
    case
        when w.session_id is null then 'the cabin''s temperature was not logged'
        when w.status = 'beyond' then format('the log ends before {:.0f} °C', w.target_c)
        when w.status = 'warm' then format('the log begins with the cabin at {:.0f} °C or above', w.target_c)
        when c.kwh is null then c.reason
        when r.kwh_k is null then 'no temperature of the cabin near the start'
        else r.basis_name
    end as note
from session s
left join warmup w using (session_id)
left join cabin_use c using (session_id)
left join ratios r using (session_id)
where s.procedure = 'cabin-warmup'
order by s.session_id
