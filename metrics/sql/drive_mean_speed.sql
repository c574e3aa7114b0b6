-- figure: drive_mean_speed
-- title:  Mean speed of the drive
-- unit:   km/h
-- better: neither
-- procedure: cold-drive, warm-drive
-- reads:  session(session_id, procedure), trip(session_id, from_s, from_u_s, to_s, to_u_s, km, u_km, basis_name, noted)
-- method: definition is ours
--
-- The figure drive_distance over the time from the start to the arrival, stops and all.
-- Two drives compare only if they are alike in it. There is no value without a distance.

select
    s.session_id,
    t.km / (t.to_s - t.from_s) * 3600 as value,
    3600 * sqrt((t.u_km / (t.to_s - t.from_s)) ** 2 + (t.km / (t.to_s - t.from_s) ** 2) ** 2 * (t.from_u_s ** 2 + t.to_u_s ** 2)) as uncertainty,
    case when t.km is not null then t.from_s end as from_s,
    case when t.km is not null then t.to_s end as to_s,
    case when t.km is null then 'none' when t.noted then 'fallback' else 'measured' end as status,
    case when t.km is null then 'neither speed nor odometer was logged over the drive' else t.basis_name end as note
from session s
left join trip t using (session_id)
where s.procedure in ('cold-drive', 'warm-drive')
order by s.session_id
