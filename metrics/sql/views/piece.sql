-- view:   piece
-- title:  Power between two neighbouring rows
-- made:   in place
-- reads:  power(session_id, t_s, kw, before_s, before_kw, before_u_abs_kw, bridged), inlet(session_id, t_s, kw, u_abs_kw, before_s, before_kw, bridged),
--         heater(session_id, t_s, kw, before_s, before_kw, bridged), cabin_heater(session_id, t_s, kw, before_s, before_kw, bridged),
--         accessory(session_id, t_s, kw, before_s, before_kw, bridged)
--
-- Each source at its own rows, never a resampled grid: from t0 to t1 the power
-- goes in a line from kw0 to kw1. Rows further apart than the source's hold are
-- not joined: bridged is false. quantity: pack, inlet, heater, cabin, accessory.

select session_id, 'pack'::quantity as quantity, before_s as t0, t_s as t1, before_kw as kw0, kw as kw1, bridged, before_u_abs_kw as u_abs_kw from power where t_s > before_s
union all
select session_id, 'inlet'::quantity, before_s, t_s, before_kw, kw, bridged, u_abs_kw from inlet where t_s > before_s
union all
select session_id, 'heater'::quantity, before_s, t_s, before_kw, kw, bridged, 0::double from heater where t_s > before_s
union all
select session_id, 'cabin'::quantity, before_s, t_s, before_kw, kw, bridged, 0::double from cabin_heater where t_s > before_s
union all
select session_id, 'accessory'::quantity, before_s, t_s, before_kw, kw, bridged, 0::double from accessory where t_s > before_s
