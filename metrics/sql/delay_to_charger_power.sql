-- figure: delay_to_charger_power
-- title:  Plug-in to power from the charger
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), plug_in(session_id, t_s, u_s), delivered(session_id, t_s, before_s, last_s),
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

measured as (
    select
        d.session_id, d.t_s, d.last_s, p.t_s as plug_s, p.u_s, b.noted, b.offset_u_s, b.basis_name, greatest(d.before_s, p.t_s) as before_s
    from delivered d join plug_in p using (session_id) join basis b on d.session_id = b.session_id and b.quantity = 'inlet'
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
