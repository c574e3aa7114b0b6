-- view:   piece
-- title:  Power between two neighbouring rows
-- reads:  power(session_id, t_s, line, kw, hold_s, u_abs_kw, step_kw), inlet(session_id, t_s, line, kw, hold_s, u_abs_kw, step_kw),
--         heater(session_id, t_s, line, kw, hold_s, u_abs_kw, step_kw)
--
-- Each source at its own rows, never a resampled grid: from t0 to t1 the power
-- goes in a line from kw0 to kw1. Rows further apart than the source's hold are
-- not joined: bridged is false.

with

rows_of as (
    select session_id, 'pack' as quantity, t_s, line, kw, hold_s, u_abs_kw, step_kw from power
    union all
    select session_id, 'inlet', t_s, line, kw, hold_s, u_abs_kw, step_kw from inlet
    union all
    select session_id, 'heater', t_s, line, kw, hold_s, u_abs_kw, step_kw from heater
),

pairs as (
    select
        session_id, quantity, t_s as t0, kw as kw0,
        lead(t_s) over w as t1,
        lead(kw) over w as kw1,
        hold_s, u_abs_kw, step_kw
    from rows_of
    window w as (partition by session_id, quantity order by t_s, line)
)

select session_id, quantity, t0, t1, kw0, kw1, t1 - t0 <= hold_s as bridged, u_abs_kw, step_kw
from pairs
where t1 > t0
