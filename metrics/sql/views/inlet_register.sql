-- view:   inlet_register
-- title:  Power from the charger into the car by its register of energy
-- reads:  reading(session_id, source_id, line, t_s, charger_energy_kwh), basis(source_id, quantity, basis, to_s)
--
-- From one row in which the register moved to the next, its gain over their time, at
-- both ends, so that sums give the register's own difference. A register that falls
-- was reset; that gain is not known and the rows around it are joined. blur_s is the time
-- that it took to move. Columns as in the view inlet.

with

held as (
    select r.session_id, r.line, r.t_s, r.charger_energy_kwh, h.to_s
    from reading r join basis h on r.source_id = h.source_id and h.quantity = 'inlet' and h.basis = 3
    where r.charger_energy_kwh is not null and r.t_s >= -600
),

-- A register stands still while others move; only rows in which it moved, the
-- first and the last tell a power.
register as (
    select
        session_id, line, t_s, charger_energy_kwh as kwh,
        lag(t_s) over w as before_s,
        lag(charger_energy_kwh) over w as before_kwh
    from (
        select *, lag(charger_energy_kwh) over (partition by session_id order by t_s, line) as still_kwh
        from held
    )
    where still_kwh is null or charger_energy_kwh <> still_kwh or t_s = to_s
    window w as (partition by session_id order by t_s, line)
),

gains as (
    select *, (kwh - before_kwh) / (t_s - before_s) * 3600 as kw from register where kwh >= before_kwh and t_s > before_s
),

counted as (
    select session_id, line, before_s as t_s, kw, greatest(t_s - before_s, 60) as hold_s, t_s - before_s as blur_s from gains
    union all
    select session_id, line, t_s - 1e-6, kw, 60, 0 from gains
)

select
    session_id, line, t_us / 1e6 as t_s, t_us, kw, hold_s, blur_s,
    lag(t_us) over w / 1e6 as before_s,
    lag(t_us) over w as before_us,
    lag(kw) over w as before_kw,
    t_us - lag(t_us) over w <= lag((hold_s * 1000000)::bigint) over w as bridged
from (select *, (t_s * 1000000)::bigint as t_us from counted)
window w as (partition by session_id order by t_us, line)
