-- figure: mean_power
-- title:  Mean power of the charge
-- unit:   kW
-- better: higher
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), energy(session_id, quantity, span, from_s, to_s, kwh, u_kwh, status, note),
--         onset(session_id, u_s), peak(session_id, end_u_s)
-- method: definition is ours
--
-- Energy into the pack from the onset to the end of the charge (view peak), divided by
-- that time; pauses are in it. How far a charge was driven decides: compare only where
-- start and end are alike, or take the time over the common window. There is no value
-- without an onset or for less than 5 min of charge (ours). Uncertainty: the energy's
-- and the ends', as if independent.

select
    s.session_id,
    case when e.to_s - e.from_s >= 300 then e.kwh / (e.to_s - e.from_s) * 3600 end as value,
    case when e.to_s - e.from_s >= 300 then sqrt((e.u_kwh * 3600) ** 2 + (e.kwh * 3600 / (e.to_s - e.from_s)) ** 2 * (o.u_s ** 2 + p.end_u_s ** 2)) / (e.to_s - e.from_s) end as uncertainty,
    e.from_s,
    e.to_s,
    case when e.kwh is null or e.to_s - e.from_s < 300 then 'none' else e.status end as status,
    case when e.kwh is not null and e.to_s - e.from_s < 300 then 'charged for less than 5 min' else e.note end as note
from session s
join energy e on s.session_id = e.session_id and e.quantity = 'pack' and e.span = 'charge'
left join onset o on s.session_id = o.session_id
left join peak p on s.session_id = p.session_id
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
