-- figure: onset_pack_temp
-- title:  Pack when the charge begins
-- unit:   °C
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), onset(session_id, t_s), warming(session_id, onset_s, onset_min_c, plug_s, noted, u_c)
-- method: definition is ours
--
-- The coldest pack sensor at the onset (view warming): how warm the car had to make
-- its pack. There is no value without an onset, and none where the coldest sensor
-- was not logged at plug-in and onset.

select
    s.session_id,
    w.onset_min_c as value,
    case when w.onset_min_c is not null then w.u_c end as uncertainty,
    w.plug_s as from_s,
    w.onset_s as to_s,
    case when w.onset_min_c is null then 'none' when w.noted then 'fallback' else 'measured' end as status,
    case when o.t_s is null then 'no onset was found' when w.onset_min_c is null then 'the coldest sensor was not logged at plug-in and onset' when w.noted then 'from notes' end as note
from session s
left join onset o using (session_id)
left join warming w using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
