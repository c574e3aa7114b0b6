-- figure: drive_consumption
-- title:  Consumption of the drive
-- unit:   kWh/100 km
-- better: lower
-- procedure: cold-drive, warm-drive
-- reads:  session(session_id, procedure), trip(session_id, from_s, to_s, km, u_km, basis_name, noted),
--         used(session_id, quantity, kwh, u_kwh, worse, basis_name)
-- method: definition is ours
--
-- What the pack gave, net of what braking gave back, from the start to the arrival,
-- over the distance: heat for cabin and pack, and what was taken standing before the car
-- moved, are in it. From the pack's voltage and current or its power as logged; else, as
-- a fallback, from what the display lost times the usable energy (views used and trip,
-- with the uncertainties). Below 1 km there is no value, for pulling away once would
-- outweigh the rest (ours); nor where energy or distance is not known.

select
    s.session_id,
    case when t.km >= 1 then 100 * u.kwh / t.km end as value,
    case when t.km >= 1 then 100 * sqrt((u.u_kwh / t.km) ** 2 + (u.kwh * t.u_km / t.km ** 2) ** 2) end as uncertainty,
    case when t.km >= 1 and u.kwh is not null then t.from_s end as from_s,
    case when t.km >= 1 and u.kwh is not null then t.to_s end as to_s,
    case when t.km is null or t.km < 1 or u.kwh is null then 'none' when t.noted or u.worse then 'fallback' else 'measured' end as status,
    case
        when t.km is null then 'neither speed nor odometer was logged over the drive'
        when t.km < 1 then format('only {:.2f} km, need 1', t.km)
        when u.kwh is null then 'what the pack gave is not known'
        else u.basis_name || '; ' || t.basis_name
    end as note
from session s
left join trip t using (session_id)
left join used u on s.session_id = u.session_id and u.quantity = 'pack'
where s.procedure in ('cold-drive', 'warm-drive')
order by s.session_id
