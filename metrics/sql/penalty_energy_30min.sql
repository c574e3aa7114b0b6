-- figure: penalty_energy_30min
-- title:  Energy in 30 min that the cold leaves
-- unit:   %
-- better: higher
-- procedure: cold-charge
-- reads:  session(session_id, vehicle_id, procedure), penalty(session_id, figure, cold, cold_u, control, control_u, controls, status)
-- method: definition is ours
--
-- The figure energy_30min of the session in the cold, of the same car's in its control session
-- (view penalty): 100 % is no loss. There is no value without a control session, where
-- one of the two has none, or the control's is not above 0. Uncertainty: both, as if
-- independent.

select
    s.session_id,
    case when p.control > 0 then 100 * p.cold / p.control end as value,
    case when p.control > 0 then 100 * sqrt((p.cold_u / p.control) ** 2 + (p.cold * p.control_u / p.control ** 2) ** 2) end as uncertainty,
    null::double as from_s,
    null::double as to_s,
    case when p.cold is null or p.control <= 0 then 'none' else p.status end as status,
    case
        when p.cold is null and not exists (from session k where k.vehicle_id = s.vehicle_id and k.procedure = 'warm-charge') then 'the car has no control session'
        when p.cold is null then 'this session or its control has no energy_30min'
        when p.control <= 0 then 'the control session has nothing to compare with'
        else 'beside ' || p.controls
    end as note
from session s left join penalty p on s.session_id = p.session_id and p.figure = 'energy_30min'
where s.procedure = 'cold-charge'
order by s.session_id
