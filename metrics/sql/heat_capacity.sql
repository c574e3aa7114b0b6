-- figure: heat_capacity
-- title:  Effective heat capacity of the pack
-- unit:   kWh/K
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), onset(session_id, t_s), energy(session_id, quantity, span, kwh, u_kwh, status, note),
--         warming(session_id, plug_s, onset_s, plug_mean_c, onset_mean_c, mean_is, noted, u_step_c)
-- method: definition is ours
--
-- Heat before the charge divided by the rise of the pack's mean temperature in that
-- time: what the car spends for a kelvin, its pipes and losses included. It is at
-- least the pack's own heat capacity, m c (Q = m c dT; cells have 830 to 1130
-- J/(kg K) by a published survey). The mean is logged, or the middle of coldest and
-- hottest sensor, which then carries 1 K more (ours).
-- There is no value for a rise of less than 5 K (ours), and none where heater or
-- pack temperature were not logged.

select
    s.session_id,
    case when w.onset_mean_c - w.plug_mean_c >= 5 then e.kwh / (w.onset_mean_c - w.plug_mean_c) end as value,
    case when w.onset_mean_c - w.plug_mean_c >= 5 then sqrt(
        (e.u_kwh / (w.onset_mean_c - w.plug_mean_c)) ** 2
        + (e.kwh / (w.onset_mean_c - w.plug_mean_c) ** 2) ** 2 * (2 * w.u_step_c ** 2 + case when w.mean_is = 'mean of the sensors' then 0 else 1 end)) end as uncertainty,
    w.plug_s as from_s,
    w.onset_s as to_s,
    case
        when e.kwh is null or w.onset_mean_c is null or w.onset_mean_c - w.plug_mean_c < 5 then 'none'
        when w.mean_is = 'one sensor' or w.noted then 'fallback'
        else e.status
    end as status,
    case
        when e.kwh is null then e.note
        when w.onset_mean_c is null then 'pack temperatures were not logged at plug-in and onset'
        when w.onset_mean_c - w.plug_mean_c < 5 then format('the pack rose by {:.1f} K only', w.onset_mean_c - w.plug_mean_c)
        else w.mean_is
    end as note
from session s
left join warming w using (session_id)
join energy e on s.session_id = e.session_id and e.quantity = 'heater' and e.span = 'before-onset'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
