-- view:   piece
-- title:  Power between two neighbouring rows
-- made:   in place
-- reads:  power(session_id, t_us, kw, before_us, before_kw, before_u_abs_kw, bridged), inlet(session_id, t_us, kw, u_abs_kw, before_us, before_kw, bridged),
--         heater(session_id, t_us, kw, before_us, before_kw, bridged), cabin_heater(session_id, t_us, kw, before_us, before_kw, bridged),
--         accessory(session_id, t_us, kw, before_us, before_kw, bridged)
--
-- Each source at its own rows, never a resampled grid: from t0 to t1 the power
-- goes in a line from kw0 to kw1. us0 and us1 are t0 and t1 in whole microseconds.
-- Rows further apart than the source's hold are not joined: bridged is false.
-- quantity: pack, inlet, heater, cabin, accessory.

with

pieces as (
    select session_id, 'pack'::quantity as quantity, before_us as us0, t_us as us1, before_kw as kw0, kw as kw1, bridged, before_u_abs_kw as u_abs_kw from power where t_us > before_us
    union all
    select session_id, 'inlet'::quantity, before_us, t_us, before_kw, kw, bridged, u_abs_kw from inlet where t_us > before_us
    union all
    select session_id, 'heater'::quantity, before_us, t_us, before_kw, kw, bridged, 0::double from heater where t_us > before_us
    union all
    select session_id, 'cabin'::quantity, before_us, t_us, before_kw, kw, bridged, 0::double from cabin_heater where t_us > before_us
    union all
    select session_id, 'accessory'::quantity, before_us, t_us, before_kw, kw, bridged, 0::double from accessory where t_us > before_us
)

select session_id, quantity, us0, us1, us0 / 1e6 as t0, us1 / 1e6 as t1, kw0, kw1, bridged, u_abs_kw from pieces
