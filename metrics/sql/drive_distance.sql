-- figure: drive_distance
-- title:  Distance driven
-- unit:   km
-- better: neither
-- procedure: cold-drive, warm-drive
-- reads:  session(session_id, procedure), trip(session_id, from_s, to_s, km, u_km, basis_name, noted)
-- method: definition is ours
--
-- From the start to the last row in which the car moves, by the speed over time or by
-- the odometer, whichever is known closer (view trip, with the uncertainty). There is no
-- value where neither was logged over the drive.

select
    s.session_id,
    t.km as value,
    t.u_km as uncertainty,
    case when t.km is not null then t.from_s end as from_s,
    case when t.km is not null then t.to_s end as to_s,
    case when t.km is null then 'none' when t.noted then 'fallback' else 'measured' end as status,
    case when t.km is null then 'neither speed nor odometer was logged over the drive' else t.basis_name end as note
from session s
left join trip t using (session_id)
where s.procedure in ('cold-drive', 'warm-drive')
order by s.session_id
