-- figure: heat_before_plug_in
-- title:  Heat before plug-in
-- unit:   kWh
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure, zero_u_s), piece(session_id, quantity, us0, us1, t0, t1, kw0, kw1, bridged)
-- method: definition is ours
--
-- What the pack's and the cabin's heaters took in the ten minutes before the session's
-- zero, as far as they were logged: a car that warms its pack on the way to the charger,
-- or in which somebody sits in the warm, does not start as cold as the night. The pack
-- may still be as cold as the air by its sensors, which lag behind. Gaps are left out.
-- The standard uncertainty is 2 % of it, for no instrument is so far off (ours), and the
-- highest power of that time times the uncertainty of the plug-in. There is no value
-- where no heater was logged before the plug-in.

with

heated as (
    select
        session_id, sum((kw0 + kw1) / 2 * (t1 - t0) / 3600) as kwh, max(greatest(kw0, kw1, 0)) as most_kw, min(t0) as from_s, max(t1) as to_s,
        bool_or(quantity = 'heater') as pack, bool_or(quantity = 'cabin') as cabin
    from piece
    where quantity in ('heater', 'cabin') and bridged and us0 >= -600000000 and us1 <= 0
    group by session_id
)

select
    s.session_id, h.kwh as value, sqrt((0.02 * h.kwh) ** 2 + (h.most_kw * s.zero_u_s / 3600) ** 2) as uncertainty, h.from_s, h.to_s,
    case when h.kwh is null then 'none' else 'measured' end as status,
    case
        when h.kwh is null then 'no heater was logged before the plug-in'
        when not h.cabin then 'of the pack''s heater; the cabin''s was not logged'
        when not h.pack then 'of the cabin''s heater; the pack''s was not logged'
    end as note
from session s left join heated h on s.session_id = h.session_id
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
