-- figure: drive_heating_share
-- title:  Share of the drive's energy spent on heat
-- unit:   %
-- better: lower
-- procedure: cold-drive, warm-drive
-- reads:  session(session_id, procedure), drive_heat(session_id, from_s, to_s, kwh, u_kwh, worse, missing),
--         used(session_id, quantity, kwh, u_kwh, worse, basis_name)
-- method: definition is ours
--
-- What the heaters of cabin and pack took, of what the pack gave net of what braking
-- gave back, from the start to the arrival. Where only one heater was logged the share
-- is at least this: a fallback, which the note says. There is no value where no heater
-- was logged, or the pack gave nothing or is not known.

select
    s.session_id,
    case when u.kwh > 0 then 100 * h.kwh / u.kwh end as value,
    case when u.kwh > 0 and h.kwh is not null then 100 * sqrt((h.u_kwh / u.kwh) ** 2 + (h.kwh * u.u_kwh / u.kwh ** 2) ** 2) end as uncertainty,
    case when u.kwh > 0 and h.kwh is not null then h.from_s end as from_s,
    case when u.kwh > 0 and h.kwh is not null then h.to_s end as to_s,
    case when h.kwh is null or u.kwh is null or u.kwh <= 0 then 'none' when h.worse or u.worse then 'fallback' else 'measured' end as status,
    case
        when h.session_id is null then 'the log tells of no drive'
        when h.kwh is null then h.missing
        when u.kwh is null then 'what the pack gave is not known'
        when u.kwh <= 0 then 'the pack gave nothing'
        else concat_ws('; ', u.basis_name, h.missing)
    end as note
from session s
left join drive_heat h using (session_id)
left join used u on s.session_id = u.session_id and u.quantity = 'pack'
where s.procedure in ('cold-drive', 'warm-drive')
order by s.session_id
