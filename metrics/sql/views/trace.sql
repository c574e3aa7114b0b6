-- view:   trace
-- title:  One row a second with the energy that the pack has taken
-- reads:  timeline(session_id, t_s, pack_kw, charger_kw, heater_kw, soc_pct, pack_min_c), plug_in(session_id, t_s), unplugged(session_id, t_s),
--         piece(session_id, quantity, t0, t1, kw0, kw1, bridged)
--
-- View timeline from five minutes before the plug-in that the charge came from
-- (plug_s; the session's zero where none is known) until the cable is pulled (view unplugged), and what the pack has taken
-- since that plug-in. For charts; no figure reads it.

with

taken as (
    select
        p.session_id, p.t0, p.t1, p.kw0, p.kw1, p.bridged,
        coalesce(sum(case when p.bridged then (p.kw0 + p.kw1) / 2 * (p.t1 - p.t0) / 3600 end)
            over (partition by p.session_id order by p.t0 rows between unbounded preceding and 1 preceding), 0) as before_kwh
    from piece p left join plug_in i using (session_id)
    where p.quantity = 'pack' and p.t0 >= coalesce(i.t_s, 0)
)

select
    l.session_id, l.t_s, coalesce(i.t_s, 0) as plug_s,
    l.pack_kw, l.charger_kw, l.heater_kw, l.soc_pct, l.pack_min_c,
    k.before_kwh
        + case when k.bridged then (2 * k.kw0 + (k.kw1 - k.kw0) * (least(l.t_s, k.t1) - k.t0) / (k.t1 - k.t0)) / 2 * (least(l.t_s, k.t1) - k.t0) / 3600 else 0 end as pack_kwh
from timeline l
left join plug_in i using (session_id)
left join unplugged d using (session_id)
asof left join taken k on l.session_id = k.session_id and l.t_s >= k.t0
where l.t_s >= coalesce(i.t_s, 0) - 300 and coalesce(l.t_s < d.t_s, true)
order by l.session_id, l.t_s
