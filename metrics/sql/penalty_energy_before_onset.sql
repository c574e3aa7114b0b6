-- figure: penalty_energy_before_onset
-- title:  More energy before the charge
-- unit:   kWh
-- better: lower
-- procedure: cold-charge
-- reads:  session(session_id, vehicle_id, procedure), penalty(session_id, figure, cold, cold_u, control, control_u, controls, status)
-- method: definition is ours
--
-- The figure energy_before_onset of the session in the cold less that of the same car's control session
-- (view penalty). There is no value without a control session, or where one of the two
-- has none. Uncertainty: both, as if independent.

select
    s.session_id,
    p.cold - p.control as value,
    sqrt(p.cold_u ** 2 + p.control_u ** 2) as uncertainty,
    null::double as from_s,
    null::double as to_s,
    case when p.cold is null then 'none' else p.status end as status,
    case
        when p.cold is null and not exists (from session k where k.vehicle_id = s.vehicle_id and k.procedure = 'warm-charge') then 'the car has no control session'
        when p.cold is null then 'this session or its control has no energy_before_onset'
        else 'beside ' || p.controls
    end as note
from session s left join penalty p on s.session_id = p.session_id and p.figure = 'energy_before_onset'
where s.procedure = 'cold-charge'
order by s.session_id
