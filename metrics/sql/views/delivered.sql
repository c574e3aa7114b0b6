-- view:   delivered
-- title:  The first power from the charger after the plug-in
-- reads:  inlet(session_id, t_s, kw, before_s), basis(session_id, quantity, derived), plug_in(session_id, t_s)
--
-- The first row with 0.1 kW (ours) or more from the plug-in on that the charge came
-- from, and the row before it, -infinity where there is none; last_s is the last row. Only where the charger's power is
-- measured by itself.

select
    i.session_id, min(i.t_s) filter (where i.kw >= 0.1 and i.t_s >= p.t_s) as t_s,
    min(coalesce(i.before_s, '-infinity')) filter (where i.kw >= 0.1 and i.t_s >= p.t_s) as before_s, max(i.t_s) as last_s
from inlet i join plug_in p using (session_id) join basis b on i.session_id = b.session_id and b.quantity = 'inlet' and not b.derived
group by i.session_id
