-- view:   piece
-- title:  Power between two neighbouring rows, with what has run up before
-- reads:  power(session_id, t_s, line, kw, hold_s, u_rel, u_abs_kw, step_kw, noted, basis, offset_u_s, basis_name),
--         inlet(session_id, t_s, line, kw, hold_s, u_rel, u_abs_kw, step_kw, noted, basis, offset_u_s, basis_name),
--         heater(session_id, t_s, line, kw, hold_s, u_rel, u_abs_kw, step_kw, noted, offset_u_s, basis_name)
--
-- Each source at its own rows, never a resampled grid: from t0 to t1 the power
-- goes in a line from kw0 to kw1. Rows further apart than the source's hold are
-- not joined (bridged is false): what the mean of their ends would give is kept
-- apart. The sums before t0, with names that start with sum_, make the energy of
-- any span a difference of two: see view energy.

with

rows_of as (
    select session_id, 'pack' as quantity, t_s, line, kw, hold_s, u_rel, u_abs_kw, step_kw, basis >= 3 as worse, offset_u_s, basis_name from power
    union all
    select session_id, 'inlet', t_s, line, kw, hold_s, u_rel, u_abs_kw, step_kw, basis >= 3 or noted, offset_u_s, basis_name from inlet
    union all
    select session_id, 'heater', t_s, line, kw, hold_s, u_rel, u_abs_kw, step_kw, noted, offset_u_s, basis_name from heater
),

pairs as (
    select
        session_id, quantity, t_s as t0, kw as kw0,
        lead(t_s) over w as t1,
        lead(kw) over w as kw1,
        hold_s, u_rel, u_abs_kw, step_kw, worse, offset_u_s, basis_name
    from rows_of
    window w as (partition by session_id, quantity order by t_s, line)
),

parts as (
    select
        *,
        t1 - t0 <= hold_s as bridged,
        (kw0 + kw1) / 2 * (t1 - t0) / 3600 as kwh,
        ((kw1 - kw0) ** 2 + step_kw ** 2) * (t1 - t0) ** 2 / 12 / 3600 ** 2 as var_kwh,
        u_abs_kw * (t1 - t0) / 3600 as load_kwh
    from pairs
    where t1 > t0
)

select
    * exclude (kwh, var_kwh, load_kwh),
    coalesce(sum(case when bridged then kwh end) over before, 0) as sum_kwh,
    coalesce(sum(case when bridged then t1 - t0 end) over before, 0) as sum_s,
    coalesce(sum(case when not bridged then abs(kwh) end) over before, 0) as sum_gap_kwh,
    coalesce(sum(case when bridged then var_kwh end) over before, 0) as sum_var_kwh,
    coalesce(sum(case when bridged then load_kwh end) over before, 0) as sum_load_kwh
from parts
window before as (partition by session_id, quantity order by t0 rows between unbounded preceding and 1 preceding)
order by session_id, quantity, t0
