-- figure: drive_heater_mean
-- title:  Mean heater power of the drive
-- unit:   kW
-- better: lower
-- procedure: cold-drive, warm-drive
-- reads:  session(session_id, procedure), drive_heat(session_id, from_s, to_s, kwh, u_kwh, worse, missing)
-- method: definition is ours
--
-- What the heaters of cabin and pack took from the start to the arrival, over that
-- time. Where only one heater was logged it is at least this: a fallback, which the note
-- says. There is no value where neither was logged.

select
    s.session_id,
    h.kwh / (h.to_s - h.from_s) * 3600 as value,
    case when h.kwh is not null then h.u_kwh / (h.to_s - h.from_s) * 3600 end as uncertainty,
    case when h.kwh is not null then h.from_s end as from_s,
    case when h.kwh is not null then h.to_s end as to_s,
    case when h.kwh is null then 'none' when h.worse then 'fallback' else 'measured' end as status,
    case when h.session_id is null then 'the log tells of no drive' else h.missing end as note
from session s
left join drive_heat h using (session_id)
where s.procedure in ('cold-drive', 'warm-drive')
order by s.session_id
