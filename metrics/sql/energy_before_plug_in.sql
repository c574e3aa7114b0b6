-- figure: energy_before_plug_in
-- title:  Energy logged before plug-in
-- unit:   kWh
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure, zero_u_s), piece(session_id, quantity, us0, us1, t0, t1, kw0, kw1, bridged),
--         basis(session_id, quantity, offset_u_s)
-- method: definition is ours
--
-- Nothing flows before the car is plugged in, so what does says that the plug-in
-- or a clock is off: the larger of what the charger gave and what the pack took,
-- net, in the hour before the session's zero. A car that is driven to the charger
-- takes from its pack, and counts as none. The standard uncertainty is 2 % of it,
-- for no instrument is so far off (ours), and the highest power of that hour times
-- the uncertainty of the plug-in and of the source's clock. A log that begins with
-- the plug-in has none of it. There is no value where no power is logged at all.

with

before as (
    select session_id, quantity,
        greatest(sum((kw0 + kw1) / 2 * (t1 - t0) / 3600), 0) as kwh, max(greatest(kw0, kw1, 0)) as most_kw, min(t0) as from_s, max(t1) as to_s
    from piece
    where quantity in ('pack', 'inlet') and bridged and us0 >= -3600000000 and us1 <= 0
    group by session_id, quantity
),

larger as (
    select session_id, max(kwh) as kwh, arg_max(most_kw, (kwh, quantity)) as most_kw, arg_max(offset_u_s, (kwh, quantity)) as offset_u_s, min(before.from_s) as from_s, max(before.to_s) as to_s
    from before left join basis using (session_id, quantity)
    group by session_id
),

logged as (
    select distinct session_id
    from basis
    where quantity in ('pack', 'inlet')
)

select
    s.session_id, case when l.session_id is not null then coalesce(b.kwh, 0) end as value, case when l.session_id is not null then coalesce(sqrt((0.02 * b.kwh) ** 2 + (b.most_kw / 3600) ** 2 * (s.zero_u_s ** 2 + coalesce(b.offset_u_s, 0) ** 2)), 0) end as uncertainty,
    case when l.session_id is not null then coalesce(b.from_s, 0) end as from_s, case when l.session_id is not null then coalesce(b.to_s, 0) end as to_s,
    case when l.session_id is null then 'none' else 'measured' end as status,
    case when l.session_id is null then 'no power is logged' end as note
from session s
left join larger b on s.session_id = b.session_id
left join logged l on s.session_id = l.session_id
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
