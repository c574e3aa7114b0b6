-- view:   cut_short
-- title:  What stopped being logged while it ran and the charge did
-- reads:  basis(session_id, quantity, hold_s, to_s, offset_u_s), peak(session_id, end_u_s), phase(session_id, phase, from_s, to_s),
--         inlet(session_id, t_us, kw), heater(session_id, t_us, kw), cabin_heater(session_id, t_us, kw)
--
-- A row for each session and quantity (inlet, heater, cabin) whose last row shows power,
-- 0.1 kW (ours) or more, within a phase of charge, by the pack's source (view phase), that
-- goes on for more than the source's hold, twice the uncertainty of both clocks and the
-- width of the charge's end: what came after that is not known, and a sum to the last row
-- is the least that it was. A log that ends at rest saw the end of it.

with

late as materialized (
    select b.session_id, b.quantity, (b.to_s * 1000000)::bigint as to_us, max(p.to_s) - b.to_s as short_s
    from basis b
    join phase p on b.session_id = p.session_id and p.phase in ('charging', 'taper') and p.from_s <= b.to_s and p.to_s > b.to_s
    join peak e on b.session_id = e.session_id
    join basis k on b.session_id = k.session_id and k.quantity = 'pack'
    where b.quantity in ('inlet', 'heater', 'cabin')
        and p.to_s - b.to_s > b.hold_s + 2 * sqrt(b.offset_u_s ** 2 + k.offset_u_s ** 2) + sqrt(3) * e.end_u_s
    group by b.session_id, b.quantity, b.to_s
),

running as (
    select l.session_id, l.quantity from late l join inlet r on l.session_id = r.session_id and l.to_us = r.t_us where l.quantity = 'inlet' and r.kw >= 0.1
    union
    select l.session_id, l.quantity from late l join heater r on l.session_id = r.session_id and l.to_us = r.t_us where l.quantity = 'heater' and r.kw >= 0.1
    union
    select l.session_id, l.quantity from late l join cabin_heater r on l.session_id = r.session_id and l.to_us = r.t_us where l.quantity = 'cabin' and r.kw >= 0.1
)

select l.session_id, l.quantity, l.short_s, format('its log ends {:.0f} min before the charge did', l.short_s / 60) as note
from late l semi join running r on l.session_id = r.session_id and l.quantity = r.quantity
