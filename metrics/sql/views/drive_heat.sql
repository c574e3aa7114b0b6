-- view:   drive_heat
-- title:  Heat of a drive
-- reads:  trip(session_id, from_s, to_s), used(session_id, quantity, from_s, to_s, kwh, u_kwh, worse)
--
-- A row for each drive: what the cabin's heater and the pack's took from the start to
-- the arrival. Where only one of the two was logged, that one, and missing says so.

select
    t.session_id, t.from_s, t.to_s,
    case when c.session_id is not null or h.session_id is not null then coalesce(c.kwh, 0) + coalesce(h.kwh, 0) end as kwh,
    sqrt(coalesce(c.u_kwh, 0) ** 2 + coalesce(h.u_kwh, 0) ** 2) as u_kwh,
    c.session_id is null or h.session_id is null or c.worse or h.worse as worse,
    case
        when c.session_id is null and h.session_id is null then 'no heater was logged over the drive'
        when c.session_id is null then 'the cabin''s heater was not logged'
        when h.session_id is null then 'the pack''s heater was not logged'
    end as missing
from trip t
left join used c on t.session_id = c.session_id and c.quantity = 'cabin'
left join used h on t.session_id = h.session_id and h.quantity = 'heater'
order by t.session_id
