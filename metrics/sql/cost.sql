-- figure: cost
-- title:  Cost of the session
-- unit:   money
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), energy(session_id, quantity, span, from_s, to_s, kwh, u_kwh, status, note),
--         plug_in(session_id, u_s), protocol(price_per_kwh, price_per_min)
-- method: definition is ours
--
-- What the charger delivered from the plug-in that led to the charge to the end of its
-- log, at the protocol's price for a kWh, and that time at its price for a minute, in
-- the protocol's currency. One price for all cars makes them comparable; what a site
-- really asked is its own affair. There is no value where no price is stated, or the
-- power at the inlet is not known. Uncertainty: the energy's, and the plug-in's moment.

select
    s.session_id,
    case when x.price_per_kwh + x.price_per_min > 0 and e.kwh is not null then e.kwh * x.price_per_kwh + (e.to_s - e.from_s) / 60 * x.price_per_min end as value,
    case when x.price_per_kwh + x.price_per_min > 0 and e.kwh is not null then sqrt((e.u_kwh * x.price_per_kwh) ** 2 + (p.u_s / 60 * x.price_per_min) ** 2) end as uncertainty,
    e.from_s,
    e.to_s,
    case when x.price_per_kwh + x.price_per_min > 0 then e.status else 'none' end as status,
    case when x.price_per_kwh + x.price_per_min > 0 then e.note else 'no price is stated in series.toml' end as note
from session s
join energy e on s.session_id = e.session_id and e.quantity = 'inlet' and e.span = 'session'
left join plug_in p on s.session_id = p.session_id
cross join protocol x
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
