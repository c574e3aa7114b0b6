-- view:   delivered
-- title:  The first power from the charger after the plug-in
-- reads:  inlet(session_id, t_us, kw, before_us), basis(session_id, quantity, derived), plug_in(session_id, t_us)
--
-- The first row with 0.1 kW (ours) or more from the plug-in on that the charge came
-- from, and the row before it, -infinity where there is none; last_s is the last row. Only where the charger's power is
-- measured by itself.

with

given as (
    select
        i.session_id, i.t_us, case when i.kw >= 0.1 and i.t_us >= p.t_us then i.t_us end as given_us,
        case when i.kw >= 0.1 and i.t_us >= p.t_us then coalesce(i.before_us, -9223372036854775807) end as before_us
    from inlet i join plug_in p using (session_id) join basis b on i.session_id = b.session_id and b.quantity = 'inlet' and not b.derived
),

first_rows as (
    select session_id, min(given_us) as t_us, min(before_us) as before_us, max(t_us) as last_us from given group by session_id
)

select
    session_id, t_us / 1e6 as t_s, case when before_us = -9223372036854775807 then '-infinity' else before_us / 1e6 end as before_s,
    last_us / 1e6 as last_s
from first_rows
