-- view:   piece
-- title:  Power between two neighbouring rows
-- reads:  power(session_id, t_s, line, kw, hold_s, u_abs_kw, step_kw), inlet(session_id, t_s, line, kw, hold_s, u_abs_kw, step_kw),
--         heater(session_id, t_s, line, kw, hold_s, u_abs_kw, step_kw), cabin_heater(session_id, t_s, line, kw, hold_s, u_abs_kw, step_kw),
--         accessory(session_id, t_s, line, kw, hold_s, u_abs_kw, step_kw)
--
-- Each source at its own rows, never a resampled grid: from t0 to t1 the power
-- goes in a line from kw0 to kw1. Rows further apart than the source's hold are
-- not joined: bridged is false. quantity: pack, inlet, heater, cabin, accessory.

with

pairs as (
    select session_id, 'pack'::quantity as quantity, lag(t_s) over w as t0, t_s as t1, lag(kw) over w as kw0, kw as kw1, lag(hold_s) over w as hold_s, lag(u_abs_kw) over w as u_abs_kw, step_kw
    from power
    window w as (partition by session_id order by t_s, line)
    union all
    select session_id, 'inlet', lag(t_s) over w_i, t_s, lag(kw) over w_i, kw, lag(hold_s) over w_i, lag(u_abs_kw) over w_i, step_kw
    from inlet
    window w_i as (partition by session_id order by t_s, line)
    union all
    select session_id, 'heater', lag(t_s) over w_h, t_s, lag(kw) over w_h, kw, lag(hold_s) over w_h, lag(u_abs_kw) over w_h, step_kw
    from heater
    window w_h as (partition by session_id order by t_s, line)
    union all
    select session_id, 'cabin', lag(t_s) over w_c, t_s, lag(kw) over w_c, kw, lag(hold_s) over w_c, lag(u_abs_kw) over w_c, step_kw
    from cabin_heater
    window w_c as (partition by session_id order by t_s, line)
    union all
    select session_id, 'accessory', lag(t_s) over w_a, t_s, lag(kw) over w_a, kw, lag(hold_s) over w_a, lag(u_abs_kw) over w_a, step_kw
    from accessory
    window w_a as (partition by session_id order by t_s, line)
)

select session_id, quantity, t0, t1, kw0, kw1, t1 - t0 <= hold_s as bridged, u_abs_kw, step_kw
from pairs
where t1 > t0
