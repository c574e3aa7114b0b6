-- view:   minute_power
-- title:  Mean power into pack and inlet, minute by minute
-- reads:  power(session_id, t_us, kw), inlet(session_id, t_us, kw), unplugged(session_id, t_us)
--
-- Minute n goes from 60 n s to 60 (n+1) s after the zero of the session clock, from it on
-- until the cable is pulled (view unplugged). The means are of the rows in the minute, each
-- of its own source; NULL where one of the two has none.

select
    coalesce(p.session_id, i.session_id) as session_id, coalesce(p.minute, i.minute) as minute, p.kw as pack_kw, i.kw as inlet_kw
from (
    select p.session_id, p.t_us // 60000000 as minute, avg(p.kw) as kw
    from power p left join unplugged d using (session_id)
    where p.t_us >= 0 and coalesce(p.t_us < d.t_us, true)
    group by all
) p
full join (
    select i.session_id, i.t_us // 60000000 as minute, avg(i.kw) as kw
    from inlet i left join unplugged d using (session_id)
    where i.t_us >= 0 and coalesce(i.t_us < d.t_us, true)
    group by all
) i on p.session_id = i.session_id and p.minute = i.minute
