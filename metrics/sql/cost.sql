-- figure: cost
-- title:  Cost of the session
-- unit:   money
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), energy(session_id, quantity, span, from_s, to_s, kwh, u_kwh, status, note), cut_short(session_id, quantity, note),
--         plug_in(session_id, u_s), protocol(price_per_kwh, price_per_min)
-- method: definition is ours
--
-- What the charger delivered from the plug-in that led to the charge to the end of its
-- log, at the protocol's price for a kWh, and that time at its price for a minute, in
-- the protocol's currency. One price for all cars makes them comparable; what a site
-- really asked is its own affair. There is no value where no price is stated, or the
-- power at the inlet is not known. A log that ends before the charge did (view cut_short)
-- tells only that it was more. Uncertainty: the energy's, and the plug-in's moment.

select
    s.session_id,
    case when x.price_per_kwh + x.price_per_min > 0 and e.kwh is not null then e.kwh * x.price_per_kwh + (e.to_s - e.from_s) / 60 * x.price_per_min end as value,
    case when x.price_per_kwh + x.price_per_min > 0 and e.kwh is not null and h.session_id is null then sqrt((e.u_kwh * x.price_per_kwh) ** 2 + (p.u_s / 60 * x.price_per_min) ** 2) end as uncertainty,
    e.from_s,
    e.to_s,
    case
        when not x.price_per_kwh + x.price_per_min > 0 then 'none'
        when e.kwh is not null and h.session_id is not null then 'beyond'
        else e.status
    end as status,
    case
        when not x.price_per_kwh + x.price_per_min > 0 then 'no price is stated in series.toml'
        when e.kwh is not null then coalesce(h.note, e.note)
        else e.note
    end as note
from session s
join energy e on s.session_id = e.session_id and e.quantity = 'inlet' and e.span = 'session'
left join plug_in p on s.session_id = p.session_id
left join cut_short h on s.session_id = h.session_id and h.quantity = 'inlet'
cross join protocol x
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
