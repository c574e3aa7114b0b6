-- figure: heater_mean_before_onset
-- title:  Mean heater power before charge
-- unit:   kW
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), energy(session_id, quantity, span, from_s, to_s, kwh, u_kwh, status, note),
--         onset(session_id, t_s, u_s), plug_in(session_id, t_s, u_s)
-- method: definition is ours
--
-- Heat before the charge divided by the time from plug-in to onset: what the car
-- brings to bear. The time in which it has not yet begun to heat is in it. There is
-- no value for less than 5 min of heating (ours), without an onset, or where the
-- heater was not logged. Uncertainty: the energy's and the time's, as if independent.

select
    s.session_id,
    case when o.t_s - p.t_s >= 300 then e.kwh / (o.t_s - p.t_s) * 3600 end as value,
    case when o.t_s - p.t_s >= 300 then sqrt((e.u_kwh * 3600) ** 2 + (e.kwh * 3600 / (o.t_s - p.t_s)) ** 2 * (o.u_s ** 2 + p.u_s ** 2)) / (o.t_s - p.t_s) end as uncertainty,
    e.from_s,
    e.to_s,
    case when e.kwh is null or o.t_s - p.t_s < 300 then 'none' else e.status end as status,
    case when e.kwh is not null and o.t_s - p.t_s < 300 then 'heated for less than 5 min' else e.note end as note
from session s
join energy e on s.session_id = e.session_id and e.quantity = 'heater' and e.span = 'before-onset'
left join onset o on s.session_id = o.session_id
left join plug_in p on s.session_id = p.session_id
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
