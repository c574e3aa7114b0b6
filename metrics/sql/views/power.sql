-- view:   power
-- title:  Net power into the pack
-- made:   in place
-- reads:  reading(session_id, source_id, line, t_s, t_us, pack_voltage_v, pack_current_a, pack_power_kw),
--         basis(source_id, quantity, basis, apart, hold_s, hold_us),
--         power_derived(session_id, line, t_s, t_us, kw, hold_s, u_abs_kw, blur_s, before_s, before_us, before_kw, before_u_abs_kw, bridged)
--
-- The rows of the source, and by the basis, that the view basis names: where its rows
-- state voltage and current, or power; else the view power_derived.
-- u_abs_kw is the uncertainty that is not a share of the reading; blur_s by how much
-- the power of a row may have begun before it.
-- t_us and before_us are t_s and before_s in whole microseconds, to which times are kept: DuckDB compares
-- integers faster than doubles, of which any may be no number.
-- before_s, before_kw, before_u_abs_kw: the row before; bridged: not further from it
-- than its hold.

with

known as (
    select
        session_id, source_id, line, t_s, t_us, 1 as basis, pack_voltage_v * pack_current_a / 1000 as kw,
        case when source_id = lag(source_id) over () then lag(t_us) over () end as before_us,
        case when source_id = lag(source_id) over () then lag(pack_voltage_v * pack_current_a / 1000) over () end as before_kw
    from reading
    where pack_voltage_v is not null and pack_current_a is not null and t_s >= -600
    union all
    select
        session_id, source_id, line, t_s, t_us, 2, pack_power_kw,
        case when source_id = lag(source_id) over () then lag(t_us) over () end,
        case when source_id = lag(source_id) over () then lag(pack_power_kw) over () end
    from reading
    where pack_power_kw is not null and t_s >= -600
)

select
    k.session_id, k.line, k.t_s, k.t_us, k.kw, h.hold_s, 0::double as u_abs_kw, 0::double as blur_s,
    k.before_us / 1e6 as before_s, k.before_us, k.before_kw, 0::double as before_u_abs_kw, k.t_us - k.before_us <= h.hold_us as bridged
from known k join basis h on k.source_id = h.source_id and k.basis = h.basis and h.quantity = 'pack' and not h.apart
union all
select session_id, line, t_s, t_us, kw, hold_s, u_abs_kw, blur_s, before_s, before_us, before_kw, before_u_abs_kw, bridged
from power_derived
