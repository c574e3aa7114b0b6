-- figure: pack_minus_ambient
-- title:  Pack minus air at plug-in
-- unit:   K
-- better: neither
-- procedure: cold-charge, warm-charge, cabin-warmup, cold-drive, warm-drive, standby
-- reads:  session(session_id, procedure),
--         at_plug_in(session_id, plug_s, air_s, air_from, air_c, air_u_c, pack_s, pack_from, pack_c, pack_u_c)
-- method: definition is ours
--
-- Pack at plug-in minus air at plug-in, as those figures define them. Near zero
-- means that the pack was as cold as the night. There is no value without both.
-- Uncertainty: both, as the root of the sum of squares (JCGM 100, 5.1.2).

select
    s.session_id,
    a.pack_c - a.air_c as value,
    sqrt(a.pack_u_c ** 2 + a.air_u_c ** 2) as uncertainty,
    least(a.air_s, a.pack_s, a.plug_s) as from_s,
    greatest(a.air_s, a.pack_s, a.plug_s) as to_s,
    case
        when a.pack_c is null or a.air_c is null then 'none'
        when a.air_from = 'car' or a.pack_from <> 'coldest sensor' then 'fallback'
        else 'measured'
    end as status,
    case
        when a.pack_c is null then 'no pack temperature within 120 s of the plug-in'
        when a.air_c is null then 'no thermometer has a value near the plug-in'
        else format('{} minus {}', a.pack_from, a.air_from)
    end as note
from session s left join at_plug_in a using (session_id)
where s.procedure in ('cold-charge', 'warm-charge', 'cabin-warmup', 'cold-drive', 'warm-drive', 'standby')
order by s.session_id
