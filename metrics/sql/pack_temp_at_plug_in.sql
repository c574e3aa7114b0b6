-- figure: pack_temp_at_plug_in
-- title:  Pack at plug-in
-- unit:   °C
-- better: neither
-- procedure: cold-charge, warm-charge, cabin-warmup, cold-drive, warm-drive, standby
-- reads:  session(session_id, procedure), at_plug_in(session_id, plug_s, pack_s, pack_from, pack_c, pack_u_c)
-- method: definition is ours
--
-- The coldest pack sensor when the car was plugged in (or the test began): the last
-- value before, else the first after, within 120 s. Where only the mean of the
-- sensors is logged, that, as a fallback. There is no value without either.

select
    s.session_id,
    a.pack_c as value,
    a.pack_u_c as uncertainty,
    least(a.pack_s, a.plug_s) as from_s,
    greatest(a.pack_s, a.plug_s) as to_s,
    case when a.pack_c is null then 'none' when a.pack_from <> 'coldest sensor' then 'fallback' else 'measured' end as status,
    case when a.pack_c is null then 'no pack temperature within 120 s of the plug-in' else a.pack_from end as note
from session s left join at_plug_in a using (session_id)
where s.procedure in ('cold-charge', 'warm-charge', 'cabin-warmup', 'cold-drive', 'warm-drive', 'standby')
order by s.session_id
