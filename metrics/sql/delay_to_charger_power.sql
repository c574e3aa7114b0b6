-- figure: delay_to_charger_power
-- title:  Plug-in to power from the charger
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), plug_in(session_id, t_s, u_s), inlet(session_id, t_s, kw), piece(session_id, quantity, t0, t1),
--         basis(session_id, quantity, derived, noted, offset_u_s, basis_name)
-- method: definition is ours
--
-- From the plug-in that led to the charge to the first row in which the charger
-- delivers at least 0.1 kW (ours): talk, checks and payment, the site's and the
-- car's. It says nothing of the pack: all of it may go into heaters. It lies after the
-- row before, and the width is a rectangular distribution (JCGM 100, 4.3.7); a note
-- comes late by up to its minute. Published limits of the steps: ISO 15118-2, seconds.
-- Where the log ends before, status beyond. There is no value where the inlet's power
-- is only worked out from the car's log.

with

known as (
    select i.session_id, min(case when i.kw >= 0.1 and i.t_s >= p.t_s then i.t_s end) as t_s, max(i.t_s) as last_s, any_value(p.t_s) as plug_s, any_value(p.u_s) as u_s
    from inlet i join plug_in p using (session_id)
    group by i.session_id
),

measured as (
    select
        k.*, b.noted, b.offset_u_s, b.basis_name,
        greatest(coalesce((select max(e.t0) from piece e where e.session_id = k.session_id and e.quantity = 'inlet' and e.t1 = k.t_s), k.plug_s), k.plug_s) as before_s
    from known k join basis b on k.session_id = b.session_id and b.quantity = 'inlet'
    where not b.derived
)

select
    s.session_id,
    coalesce((f.before_s + f.t_s) / 2 - f.plug_s, case when f.last_s > f.plug_s then f.last_s - f.plug_s end) / 60 as value,
    case when f.t_s is not null then sqrt((f.t_s - f.before_s) ** 2 / 12 + f.offset_u_s ** 2 + f.u_s ** 2 + case when f.noted then 30 else 0 end ** 2) / 60 end as uncertainty,
    f.plug_s as from_s,
    coalesce(f.t_s, f.last_s) as to_s,
    case when f.t_s is not null then case when f.noted then 'fallback' else 'measured' end when f.last_s > f.plug_s then 'beyond' else 'none' end as status,
    case
        when f.t_s is not null then f.basis_name
        when f.last_s > f.plug_s then 'the charger had delivered nothing when its log ended'
        else 'the charger''s power is not known'
    end as note
from session s
left join measured f using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
