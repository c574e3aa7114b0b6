-- view:   delivered
-- title:  The first power from the charger after the plug-in
-- reads:  inlet(session_id, t_us, kw, before_us), basis(session_id, quantity, derived), plug_in(session_id, t_us)
--
-- The first row with 0.1 kW (ours) or more from the plug-in on that the charge came
-- from, and the row before it, -infinity where there is none; last_s is the last row. Only where the charger's power is
-- measured by itself.

with

rows_of as (
    select i.session_id, i.t_us, i.before_us, i.kw >= 0.1 and i.t_us >= p.t_us as given
    from inlet i join plug_in p using (session_id) join basis b on i.session_id = b.session_id and b.quantity = 'inlet' and not b.derived
)

select
    session_id, min(t_us) filter (where given) / 1e6 as t_s,
    arg_min(coalesce(before_us / 1e6, '-infinity'), t_us) filter (where given) as before_s,
    max(t_us) / 1e6 as last_s
from rows_of
group by session_id
