-- view:   curve
-- title:  Power over minutes, charge, energy and the coldest temperature
-- reads:  smooth(session_id, t_s, mean_kw), plug_in(session_id, t_s), charge_level(session_id, t_s, soc_pct), pack_temp(session_id, t_s, min_c),
--         piece(session_id, quantity, t0, t1, kw0, kw1, bridged), limited(session_id, from_s, to_s, held_by)
--
-- One row for each row of power from the plug-in on: its mean over 10 s, the
-- displayed charge (at most 600 s old), the coldest pack sensor (at most 120 s
-- old), and the energy that the pack has taken since its log began. held_by says
-- where the charger, not the car, was the limit (view limited).

with

taken as (
    select session_id, t1, sum(case when bridged then (kw0 + kw1) / 2 * (t1 - t0) / 3600 else 0 end) over (partition by session_id order by t1) as kwh
    from piece
    where quantity = 'pack'
)

select
    s.session_id, s.t_s, (s.t_s - i.t_s) / 60 as min, s.mean_kw as kw,
    case when s.t_s - c.t_s <= 600 then c.soc_pct end as soc_pct,
    case when s.t_s - k.t_s <= 120 then k.min_c end as pack_min_c,
    p.kwh,
    case when s.t_s <= l.to_s then l.held_by end as held_by
from smooth s
join plug_in i on s.session_id = i.session_id
asof left join charge_level c on s.session_id = c.session_id and s.t_s >= c.t_s
asof left join pack_temp k on s.session_id = k.session_id and s.t_s >= k.t_s
asof left join taken p on s.session_id = p.session_id and s.t_s >= p.t1
asof left join limited l on s.session_id = l.session_id and s.t_s >= l.from_s
