-- figure: soak_ambient_low
-- title:  Lowest air over the soak
-- unit:   °C
-- better: neither
-- procedure: cold-charge, cabin-warmup, cold-drive, standby
-- reads:  session(session_id, procedure), soak(session_id, from_s, to_s),
--         air(session_id, t_s, line, instrument, preference, c, u_c)
-- method: definition is ours
--
-- The lowest value of the air from the start of the soak to the plug-in, by the most
-- preferred instrument that has three values in it or more. A single value that is
-- off counts: look at the log. There is no value where nothing says when the soak
-- began or no instrument has three.

with

lows as (
    select a.session_id, a.instrument, a.preference, min(a.c) as c, arg_min(a.t_s, a.c * 1e7 + a.t_s / 1e6) as t_s, max(a.u_c) as u_c
    from air a join soak k using (session_id)
    where a.t_s between k.from_s and k.to_s
    group by all
    having count(*) >= 3
),

chosen as (
    select * from lows qualify row_number() over (partition by session_id order by preference) = 1
)

select
    s.session_id,
    c.c as value,
    c.u_c as uncertainty,
    c.t_s as from_s,
    c.t_s as to_s,
    case when c.c is null then 'none' when c.preference = 3 then 'fallback' else 'measured' end as status,
    case when k.from_s is null then 'nothing says when the soak began' when c.c is null then 'no thermometer has three values in the soak' else c.instrument end as note
from session s
left join soak k using (session_id)
left join chosen c using (session_id)
where s.procedure in ('cold-charge', 'cabin-warmup', 'cold-drive', 'standby')
order by s.session_id
