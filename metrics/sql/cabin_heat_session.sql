-- figure: cabin_heat_session
-- title:  Cabin heat in the session
-- unit:   kWh
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), energy(session_id, quantity, span, from_s, to_s, kwh, u_kwh, status, note), cut_short(session_id, quantity, note)
-- method: definition is ours
--
-- What the cabin's heater took from the plug-in that led to the charge to the end of
-- its log. A cold charge is measured with the cabin off: somebody who sits in the warm
-- takes from the charger what the pack does not get. Views cabin_heater and energy. A log
-- that ends before the charge did (view cut_short) tells only that it was more. There is
-- no value where it was not logged.

select
    s.session_id, e.kwh as value, case when x.session_id is null then e.u_kwh end as uncertainty, e.from_s, e.to_s,
    case when e.kwh is not null and x.session_id is not null then 'beyond' else e.status end as status,
    case when e.kwh is not null then coalesce(x.note, e.note) else e.note end as note
from session s
join energy e on s.session_id = e.session_id and e.quantity = 'cabin' and e.span = 'session'
left join cut_short x on s.session_id = x.session_id and x.quantity = 'cabin'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
