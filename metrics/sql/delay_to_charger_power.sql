-- figure: delay_to_charger_power
-- title:  Plug-in to power from the charger
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), plug_in(session_id, t_s, u_s), inlet(session_id, t_s, line, kw),
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

rows_of as (
    select
        i.session_id, i.t_s, i.kw, b.noted, b.offset_u_s, b.basis_name, p.t_s as plug_s, p.u_s,
        greatest(coalesce(lag(i.t_s) over (partition by i.session_id order by i.t_s, i.line), p.t_s), p.t_s) as before_s
    from inlet i join plug_in p using (session_id) join basis b on i.session_id = b.session_id and b.quantity = 'inlet'
    where not b.derived
),

first_row as (
    select * from rows_of where kw >= 0.1 and t_s >= plug_s qualify row_number() over (partition by session_id order by t_s) = 1
),

ends as (
    select session_id, max(t_s) as last_s, any_value(plug_s) as plug_s, any_value(basis_name) as basis_name from rows_of group by session_id
)

select
    s.session_id,
    coalesce((f.before_s + f.t_s) / 2 - f.plug_s, case when e.last_s > e.plug_s then e.last_s - e.plug_s end) / 60 as value,
    sqrt((f.t_s - f.before_s) ** 2 / 12 + f.offset_u_s ** 2 + f.u_s ** 2 + case when f.noted then 30 else 0 end ** 2) / 60 as uncertainty,
    e.plug_s as from_s,
    coalesce(f.t_s, e.last_s) as to_s,
    case when f.t_s is not null then case when f.noted then 'fallback' else 'measured' end when e.last_s > e.plug_s then 'beyond' else 'none' end as status,
    case
        when f.t_s is not null then e.basis_name
        when e.last_s > e.plug_s then 'the charger had delivered nothing when its log ended'
        else 'the charger''s power is not known'
    end as note
from session s
left join first_row f using (session_id)
left join ends e using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
