-- figure: onset_soc
-- title:  Displayed charge when the charge begins
-- unit:   %
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), onset(session_id, t_s, to_s), charge_level(session_id, t_s, soc_pct, next_s, next_pct, step_pct, told)
-- method: definition is ours
--
-- What the display showed last before the onset, else first after it. It may be
-- higher than at the plug-in with no energy in between: a reserve that the cold
-- had locked. Uncertainty: one step of the display, rectangular (JCGM 100, 4.3.7), and
-- where the onset lies in a gap of the display's log of more than 60 s, what it rose over
-- the gap, likewise. There is no value without an onset or without the display.

with

near as (
    select
        c.session_id, c.t_s, c.soc_pct, c.told,
        sqrt(c.step_pct ** 2 + case when c.t_s < o.t_s and c.next_s - c.t_s > 60 then c.next_pct - c.soc_pct else 0 end ** 2) / sqrt(12) as u_pct
    from charge_level c join onset o using (session_id)
    where o.t_s is not null
    qualify row_number() over (partition by c.session_id order by c.t_s > o.t_s, abs(c.t_s - o.t_s)) = 1
)

select
    s.session_id,
    n.soc_pct as value,
    n.u_pct as uncertainty,
    least(n.t_s, o.t_s) as from_s,
    greatest(n.t_s, o.t_s) as to_s,
    case when n.soc_pct is null then 'none' when n.told is not null then 'fallback' else 'measured' end as status,
    case
        when o.t_s is null then 'no onset was found'
        when n.soc_pct is null then 'the display was not logged'
        else n.told
    end as note
from session s
left join onset o using (session_id)
left join near n using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
