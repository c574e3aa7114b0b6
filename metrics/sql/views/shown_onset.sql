-- view:   shown_onset
-- title:  When the displayed charge began to rise steadily
-- reads:  charge_level(session_id, t_s, line, held_pct, offset_u_s)
--
-- For sessions in which nothing tells power into the pack. The first gain of a
-- whole percent that goes on at 0.2 % a minute or more over two further gains:
-- 7 kW into 60 kWh, and more than warmth alone releases of a reserve locked by
-- the cold (ours). The charge began before the next gain was shown, since the
-- first may have been the last of a release, and before the first by no more
-- than it and one step take at that pace: from_s to_s.

with

displayed as (
    select session_id, floor(held_pct) as level_pct, min(t_s) as t_s, any_value(offset_u_s) as offset_u_s
    from charge_level
    where t_s >= 0
    group by session_id, floor(held_pct)
),

gains as (
    select
        session_id, offset_u_s, t_s,
        lag(t_s) over w as before_s,
        lead(t_s) over w as next_s,
        level_pct - lag(level_pct) over w as gain_pct,
        (lead(level_pct, 2) over w - level_pct) / nullif(lead(t_s, 2) over w - t_s, 0) as pct_s
    from displayed
    window w as (partition by session_id order by level_pct)
)

select session_id, greatest(before_s, t_s - (gain_pct + 1) / pct_s) as from_s, next_s as to_s, offset_u_s
from gains
where before_s < t_s and pct_s >= 0.2 / 60
qualify row_number() over (partition by session_id order by t_s) = 1
order by session_id
