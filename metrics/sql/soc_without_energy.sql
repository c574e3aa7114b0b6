-- figure: soc_without_energy
-- title:  Charge shown without energy
-- unit:   %
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), plug_in(session_id, t_s), onset(session_id, t_s), at_plug_in(session_id, soc_pct, soc_u_pct, soc_told),
--         charge_level(session_id, t_s, soc_pct, next_s, next_pct, step_pct)
-- method: definition is ours
--
-- What the display gained between the plug-in and the onset, in which no energy went
-- into the pack: a reserve that the cold had locked and warmth released. It is no
-- charge, and none of it counts as such. Uncertainty: a step of the display at each
-- end, rectangular (JCGM 100, 4.3.7). There is no value without an onset, and none
-- where the display was not logged.

with

before as (
    select
        o.session_id, c.soc_pct, c.step_pct,
        case when c.t_s < o.t_s and c.next_s - c.t_s > 60 then c.next_pct - c.soc_pct else 0 end as rise_pct
    from onset o asof join charge_level c on o.session_id = c.session_id and o.t_s >= c.t_s
    where o.t_s is not null
)

select
    s.session_id,
    b.soc_pct - a.soc_pct as value,
    sqrt(a.soc_u_pct ** 2 + (b.step_pct ** 2 + b.rise_pct ** 2) / 12) as uncertainty,
    p.t_s as from_s,
    o.t_s as to_s,
    case when b.soc_pct is null or a.soc_pct is null then 'none' when a.soc_told is not null then 'fallback' else 'measured' end as status,
    case
        when o.t_s is null then 'no onset was found'
        when a.soc_pct is null then 'no displayed charge near the plug-in'
        when b.soc_pct is null then 'the display was not logged'
        else a.soc_told
    end as note
from session s
left join plug_in p using (session_id)
left join onset o using (session_id)
left join at_plug_in a using (session_id)
left join before b using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
