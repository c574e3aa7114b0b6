-- figure: peak_c_rate
-- title:  Peak power of the usable energy
-- unit:   1/h
-- better: higher
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure, vehicle_id), vehicle(vehicle_id, usable_kwh), peak(session_id, peak_kw, peak_u_kw, peak_s, plug_s, worse, basis_name)
-- method: definition is ours
--
-- Peak power into the pack (figure peak_power) divided by the usable energy of the
-- vehicle's file: how hard the pack is charged for its size, whatever that is. There
-- is no value where one of the two is not known. The usable energy is taken as stated.

select
    s.session_id,
    case when v.usable_kwh > 0 then p.peak_kw / v.usable_kwh end as value,
    case when v.usable_kwh > 0 then p.peak_u_kw / v.usable_kwh end as uncertainty,
    greatest(p.peak_s - 9.5, p.plug_s) as from_s,
    p.peak_s as to_s,
    case when p.peak_kw is null or coalesce(v.usable_kwh, 0) <= 0 then 'none' when p.worse then 'fallback' else 'measured' end as status,
    case when p.peak_kw is null then 'power into the pack is not known' when coalesce(v.usable_kwh, 0) <= 0 then 'the usable energy is not stated' else p.basis_name end as note
from session s
left join vehicle v using (vehicle_id)
left join peak p using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
