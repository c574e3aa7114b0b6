-- view:   heater
-- title:  Power into the pack's heater
-- reads:  reading(session_id, source_id, line, t_s, heater_power_kw), basis(session_id, source_id, quantity, hold_s, step_kw)
--
-- The rows of the source that the view basis names.

select r.session_id, r.line, r.t_s, r.heater_power_kw as kw, h.hold_s, 0::double as u_abs_kw, h.step_kw
from reading r join basis h on r.session_id = h.session_id and r.source_id = h.source_id and h.quantity = 'heater'
where r.heater_power_kw is not null and r.t_s >= -600
