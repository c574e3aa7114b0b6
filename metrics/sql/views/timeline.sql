-- view:   timeline
-- title:  One row a second, every source joined
-- reads:  session(session_id), power(session_id, t_s, kw, hold_s), inlet(session_id, t_s, kw, hold_s), heater(session_id, t_s, kw, hold_s),
--         charge_level(session_id, t_s, soc_pct), pack_temp(session_id, t_s, min_c, max_c, mean_c),
--         air(session_id, t_s, preference, c, hold_s)
--
-- From the first to the last row of power, inlet or heater, on the session clock.
-- Each value is the last one before the second, if it is not older than it may
-- be: powers their source's hold (view offer), the displayed charge 600 s,
-- pack temperatures 120 s, the air its instrument's hold; else NULL. For looking
-- and for charts; no figure reads it, since a second is nobody's own row.

with

spans as (
    select session_id, floor(min(t_s))::bigint as a, ceil(max(t_s))::bigint as b
    from (
        select session_id, t_s from power
        union all
        select session_id, t_s from inlet
        union all
        select session_id, t_s from heater
    )
    group by session_id
),

seconds as (
    select session_id, unnest(range(a, b + 1))::double as t_s from spans
),

best_air as (
    select session_id, t_s, min(c) as c, min(hold_s) as hold_s
    from air
    where preference = (select min(a.preference) from air a where a.session_id = air.session_id)
    group by session_id, t_s
)

select
    s.session_id, s.t_s,
    case when s.t_s - p.t_s <= p.hold_s then p.kw end as pack_kw,
    case when s.t_s - i.t_s <= i.hold_s then i.kw end as charger_kw,
    case when s.t_s - h.t_s <= h.hold_s then h.kw end as heater_kw,
    case when s.t_s - c.t_s <= 600 then c.soc_pct end as soc_pct,
    case when s.t_s - k.t_s <= 120 then k.min_c end as pack_min_c,
    case when s.t_s - k.t_s <= 120 then k.max_c end as pack_max_c,
    case when s.t_s - a.t_s <= a.hold_s then a.c end as ambient_c
from seconds s
asof left join power p on s.session_id = p.session_id and s.t_s >= p.t_s
asof left join inlet i on s.session_id = i.session_id and s.t_s >= i.t_s
asof left join heater h on s.session_id = h.session_id and s.t_s >= h.t_s
asof left join charge_level c on s.session_id = c.session_id and s.t_s >= c.t_s
asof left join pack_temp k on s.session_id = k.session_id and s.t_s >= k.t_s
asof left join best_air a on s.session_id = a.session_id and s.t_s >= a.t_s
