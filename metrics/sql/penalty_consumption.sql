-- figure: penalty_consumption
-- title:  Consumption beside the warm drive
-- unit:   %
-- better: lower
-- procedure: cold-drive
-- reads:  session(session_id, vehicle_id, procedure), penalty(session_id, figure, cold, cold_u, control, control_u, controls, status)
-- method: definition is ours
--
-- The figure drive_consumption of the drive in the cold, of the same car's in its control
-- drive (view penalty): 100 % is no loss, 150 % half as much again. There is no value without a
-- control drive, where one of the two has none, or the control's is not above 0.
-- Uncertainty: both, as if independent.

select
    s.session_id,
    case when p.control > 0 then 100 * p.cold / p.control end as value,
    case when p.control > 0 then 100 * sqrt((p.cold_u / p.control) ** 2 + (p.cold * p.control_u / p.control ** 2) ** 2) end as uncertainty,
    null::double as from_s,
    null::double as to_s,
    case when p.cold is null or p.control <= 0 then 'none' else p.status end as status,
    case
        when p.cold is null and not exists (from session k where k.vehicle_id = s.vehicle_id and k.procedure = 'warm-drive') then 'the car has no control drive'
        when p.cold is null then 'this drive or its control has no drive_consumption'
        when p.control <= 0 then 'the control drive has nothing to compare with'
        else 'beside ' || p.controls
    end as note
from session s left join penalty p on s.session_id = p.session_id and p.figure = 'drive_consumption'
where s.procedure = 'cold-drive'
order by s.session_id
