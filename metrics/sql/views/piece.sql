-- view:   piece
-- title:  Power between two neighbouring rows, and what went before
-- reads:  power(session_id, t_s, line, kw, hold_s, u_abs_kw, step_kw), inlet(session_id, t_s, line, kw, hold_s, u_abs_kw, step_kw),
--         heater(session_id, t_s, line, kw, hold_s, u_abs_kw, step_kw), cabin_heater(session_id, t_s, line, kw, hold_s, u_abs_kw, step_kw),
--         accessory(session_id, t_s, line, kw, hold_s, u_abs_kw, step_kw)
--
-- Each source at its own rows, never a resampled grid: from t0 to t1 the power
-- goes in a line from kw0 to kw1. Rows further apart than the source's hold are
-- not joined: bridged is false. before_* are sums over the pieces before this
-- one, so that the energy between any two moments takes two of them (view
-- energy): kwh and time that is bridged, what the mean of their ends would have
-- given in time that is not, the variance of sampling and last digits, and the
-- energy of unknown loads.

with

rows_of as (
    select session_id, 'pack' as quantity, t_s, line, kw, hold_s, u_abs_kw, step_kw from power
    union all
    select session_id, 'inlet', t_s, line, kw, hold_s, u_abs_kw, step_kw from inlet
    union all
    select session_id, 'heater', t_s, line, kw, hold_s, u_abs_kw, step_kw from heater
    union all
    select session_id, 'cabin', t_s, line, kw, hold_s, u_abs_kw, step_kw from cabin_heater
    union all
    select session_id, 'accessory', t_s, line, kw, hold_s, u_abs_kw, step_kw from accessory
),

pairs as (
    select
        session_id, quantity, t_s as t0, kw as kw0,
        lead(t_s) over w as t1,
        lead(kw) over w as kw1,
        hold_s, u_abs_kw, step_kw
    from rows_of
    window w as (partition by session_id, quantity order by t_s, line)
),

pieces as (
    select
        *,
        t1 - t0 <= hold_s as bridged,
        (kw0 + kw1) / 2 * (t1 - t0) / 3600 as kwh,
        -- A step may lie anywhere between two rows: rectangular (JCGM 100, 4.3.7).
        ((kw1 - kw0) ** 2 + step_kw ** 2) / 12 / 3600 ** 2 as var_kwh_s2
    from pairs
    where t1 > t0
)

select
    session_id, quantity, t0, t1, kw0, kw1, bridged, u_abs_kw, step_kw, var_kwh_s2,
    coalesce(sum(case when bridged then kwh end) over w, 0) as before_kwh,
    coalesce(sum(case when bridged then t1 - t0 end) over w, 0) as before_bridged_s,
    coalesce(sum(case when not bridged then abs(kwh) end) over w, 0) as before_gap_kwh,
    coalesce(sum(case when bridged then var_kwh_s2 * (t1 - t0) ** 2 end) over w, 0) as before_var_kwh,
    coalesce(sum(case when bridged then u_abs_kw * (t1 - t0) / 3600 end) over w, 0) as before_load_kwh
from pieces
window w as (partition by session_id, quantity order by t0 rows between unbounded preceding and 1 preceding)
