-- figure: range_added_5min
-- title:  Range added in 5 min
-- unit:   km
-- better: higher
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure, vehicle_id), vehicle(vehicle_id, rated_wh_km),
--         energy(session_id, quantity, span, from_s, to_s, kwh, u_kwh, status, note)
-- method: definition is ours
--
-- The energy into the pack in the first 5 minutes after the plug-in that led to the
-- charge, divided by the car's rated consumption: what the maker's rating would
-- make of it, not what the cold would. There is no value where the energy has
-- none, or the rated consumption is not stated. Uncertainty: the energy's; the
-- rating is taken as it is.

select
    s.session_id,
    e.kwh * 1000 / v.rated_wh_km as value,
    e.u_kwh * 1000 / v.rated_wh_km as uncertainty,
    e.from_s,
    e.to_s,
    case when v.rated_wh_km is null then 'none' else e.status end as status,
    case when v.rated_wh_km is null then 'the rated consumption is not stated' else e.note end as note
from session s
left join vehicle v using (vehicle_id)
join energy e on s.session_id = e.session_id and e.quantity = 'pack' and e.span = '5min'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
