-- view:   shown_loss
-- title:  What the display lost, and the energy that it stands for
-- reads:  outing(session_id, kind, from_s, to_s), charge_level(session_id, t_s, line, soc_pct, step_pct, noted),
--         pack_temp(session_id, t_s, mean_c), session(session_id, vehicle_id), vehicle(vehicle_id, usable_kwh)
--
-- The displayed charge at the start of the span less that at its end: at each the
-- last row before, not older than 600 s (the channel's hold), else the first after
-- it within 600 s. u_pct: the last digit at each end, step^2/12 each.
-- kwh is the loss as a share of the usable energy that the vehicle's file states. The
-- cold hides some of the charge and warmth gives it back: 0 to 0.1 % a kelvin that the
-- pack cools or warms, of which the middle is taken out and the rest is a rectangular
-- distribution (JCGM 100, 4.3.7; the range is ours). Where the pack's temperature is
-- not logged at both ends it may have changed by 10 K either way, by 30 K in a car that
-- stands (ours). A cold pack does not hold what a warm one does: 5 % (ours).

with

level_at as (
    select o.session_id, c.t_s, c.soc_pct, c.step_pct, c.noted, abs(c.t_s - o.from_s) as off_s, c.t_s > o.from_s as after, c.line, 'from' as place
    from outing o join charge_level c on o.session_id = c.session_id and c.t_s between o.from_s - 600 and o.from_s + 600
    union all
    select o.session_id, c.t_s, c.soc_pct, c.step_pct, c.noted, abs(c.t_s - o.to_s), c.t_s > o.to_s, c.line, 'to'
    from outing o join charge_level c on o.session_id = c.session_id and c.t_s between o.to_s - 600 and o.to_s + 600
),

levels as (
    select * from level_at qualify row_number() over (partition by session_id, place order by after, off_s, line) = 1
),

temp_at as (
    select o.session_id, 'from' as place, k.mean_c, abs(k.t_s - o.from_s) as off_s, k.t_s
    from outing o join pack_temp k on o.session_id = k.session_id and k.t_s between o.from_s - 600 and o.from_s + 600
    union all
    select o.session_id, 'to', k.mean_c, abs(k.t_s - o.to_s), k.t_s
    from outing o join pack_temp k on o.session_id = k.session_id and k.t_s between o.to_s - 600 and o.to_s + 600
),

temps as (
    select * from temp_at qualify row_number() over (partition by session_id, place order by off_s, t_s) = 1
),

ends as (
    select
        o.session_id, o.kind, a.t_s as from_s, b.t_s as to_s, a.soc_pct - b.soc_pct as loss_pct, a.noted or b.noted as noted,
        sqrt(a.step_pct ** 2 + b.step_pct ** 2) / sqrt(12) as u_pct,
        d.mean_c - c.mean_c as warmed_k,
        nullif(v.usable_kwh, 0) as usable_kwh
    from outing o
    join levels a on o.session_id = a.session_id and a.place = 'from'
    join levels b on o.session_id = b.session_id and b.place = 'to'
    left join temps c on o.session_id = c.session_id and c.place = 'from'
    left join temps d on o.session_id = d.session_id and d.place = 'to'
    join session s on o.session_id = s.session_id
    left join vehicle v on s.vehicle_id = v.vehicle_id
    where b.t_s > a.t_s
),

hidden as (
    select
        *,
        0.05 * coalesce(warmed_k, 0) as back_pct,
        case when warmed_k is null then case when kind = 'standby' then 30 else 10 end * 0.1 / sqrt(3) else abs(warmed_k) * 0.1 / sqrt(12) end as back_u_pct
    from ends
)

select
    session_id, from_s, to_s, loss_pct, u_pct, noted,
    (loss_pct + back_pct) / 100 * usable_kwh as kwh,
    usable_kwh * sqrt(u_pct ** 2 + back_u_pct ** 2 + (0.05 * (loss_pct + back_pct)) ** 2) / 100 as u_kwh
from hidden
