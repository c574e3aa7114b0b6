-- figure: cabin_warming_rate
-- title:  Cabin warming
-- unit:   K/min
-- better: higher
-- procedure: cabin-warmup
-- reads:  session(session_id, procedure), warmup(session_id, status, noted, start_c, target_c, target_s, u_c, step_c, width_u_s, rate_k_s)
-- method: definition is ours
--
-- The rise from the start to the protocol's target over the time it took (view
-- warmup). A thermometer that is off by some kelvins makes the rise that much shorter,
-- and the time too, by as much over the rate at the end; what is left of it, its last
-- digit at the start, and the moment of the target are the uncertainty. There is no
-- value where the target was not reached: the mean over a part flatters.

with

rated as (
    select *, (target_c - start_c) / target_s as k_s from warmup where status = 'reached' and start_c < target_c and target_s > 0
)

select
    s.session_id,
    r.k_s * 60 as value,
    60 * sqrt((r.u_c / r.target_s * (r.k_s / r.rate_k_s - 1)) ** 2
        + r.step_c ** 2 / 12 * (1 / r.target_s ** 2 + (r.k_s / r.rate_k_s / r.target_s) ** 2)
        + (r.k_s / r.target_s * r.width_u_s) ** 2) as uncertainty,
    case when r.k_s is not null then 0 end as from_s,
    r.target_s as to_s,
    case when r.k_s is null then 'none' when r.noted then 'fallback' else 'measured' end as status,
    case
        when w.session_id is null then 'the cabin''s temperature was not logged'
        when w.status = 'beyond' then format('the log ends before {:.0f} °C', w.target_c)
        when w.status = 'warm' then format('the log begins with the cabin at {:.0f} °C or above', w.target_c)
        when r.k_s is null then 'no temperature of the cabin near the start'
        when r.noted then 'from notes'
    end as note
from session s
left join warmup w using (session_id)
left join rated r using (session_id)
where s.procedure = 'cabin-warmup'
order by s.session_id
