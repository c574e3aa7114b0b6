-- view:   power_span
-- title:  From when to when power into the pack is known
-- reads:  power(session_id, t_us, u_abs_kw)
--
-- The first and the last row of the view power, and the largest uncertainty of a row
-- that is not a share of its reading.

select session_id, min(t_us) / 1e6 as first_s, max(t_us) / 1e6 as last_s, max(u_abs_kw) as u_abs_kw
from power
group by session_id
