-- figure: heat_warming_share
-- title:  Share of the heat that warmed the pack
-- unit:   %
-- better: higher
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure, vehicle_id), vehicle(vehicle_id, pack_mass_kg), onset(session_id, t_s),
--         energy(session_id, quantity, span, kwh, u_kwh, status, note),
--         warming(session_id, plug_s, onset_s, plug_mean_c, onset_mean_c, mean_is, noted, u_step_c)
-- method: definition is ours
--
-- Heat that the pack must have taken, m c dT, of what its heater took between plug-in
-- and onset. dT is the rise of the pack's mean temperature (as in heat_capacity), m
-- the pack's mass by the vehicle's file, c 980 J/(kg K) give or take 87: cells have
-- 830 to 1130 by a published survey, taken as a rectangle (JCGM 100, 4.3.7). The rest
-- warmed pipes, case and the night. Heat of the motors' or from outside may make it
-- more than 100 %. There is no value for a rise of less than 5 K (ours), and none
-- where the mass is not stated or heater or pack temperatures were not logged.

with

parts as (
    select
        s.session_id, v.pack_mass_kg, e.kwh, e.u_kwh, e.status, e.note, o.t_s as onset_s, w.plug_s, w.onset_s as to_s, w.mean_is, w.noted,
        w.onset_mean_c - w.plug_mean_c as rise_k,
        sqrt(2 * w.u_step_c ** 2 + case when w.mean_is = 'mean of the sensors' then 0 else 1 end) as u_rise_k,
        v.pack_mass_kg * 980 * (w.onset_mean_c - w.plug_mean_c) / 3.6e6 as taken_kwh
    from session s
    left join vehicle v using (vehicle_id)
    join energy e on s.session_id = e.session_id and e.quantity = 'heater' and e.span = 'before-onset'
    left join onset o on s.session_id = o.session_id
    left join warming w on s.session_id = w.session_id
    where s.procedure in ('cold-charge', 'warm-charge')
),

judged as (
    select
        *,
        case
            when kwh is null then note
            when coalesce(pack_mass_kg, 0) <= 0 then 'the pack''s mass is not stated'
            when rise_k is null then 'pack temperatures were not logged at plug-in and onset'
            when rise_k < 5 then format('the pack rose by {:.1f} K only', rise_k)
        end as reason
    from parts
)

select
    session_id,
    case when reason is null then 100 * taken_kwh / kwh end as value,
    case when reason is null then 100 * taken_kwh / kwh * sqrt((u_kwh / kwh) ** 2 + (u_rise_k / rise_k) ** 2 + (87.0 / 980) ** 2) end as uncertainty,
    plug_s as from_s,
    to_s,
    case when reason is not null then 'none' when mean_is = 'one sensor' or noted then 'fallback' else status end as status,
    coalesce(reason, mean_is) as note
from judged
order by session_id
