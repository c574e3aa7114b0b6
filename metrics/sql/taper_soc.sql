-- figure: taper_soc
-- title:  Displayed charge from which the power falls
-- unit:   %
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), onset(session_id, t_s), peak(session_id, taper_s, taper_u_s, end_s),
--         charge_level(session_id, t_s, held_pct, step_pct, noted)
-- method: definition is ours
--
-- What the display showed at the last moment with 80 % of the session's peak power
-- or more (view peak; 80 % is ours): the last row before, not older than 600 s (the
-- channel's hold). A charge that was ended by hand before it fell shows where it was
-- ended, and the note says so. Uncertainty: a step of the display, rectangular (JCGM
-- 100, 4.3.7), and what it gains in the interval that the moment lies in.

with

moments as (
    select p.session_id, o.t_s as onset_s, p.taper_s as at_s, p.taper_u_s as u_s, p.taper_s >= p.end_s - 60 as ended
    from peak p join onset o using (session_id)
    where o.t_s is not null
),

shown as (
    select
        m.*, c.t_s as shown_s, c.held_pct, c.step_pct, c.noted,
        greatest((l.held_pct - b.held_pct) / nullif(l.t_s - b.t_s, 0), 0) as pct_per_s
    from moments m
    asof left join charge_level c on m.session_id = c.session_id and m.at_s >= c.t_s
    asof left join charge_level b on m.session_id = b.session_id and m.at_s - 60 >= b.t_s
    asof left join charge_level l on m.session_id = l.session_id and m.at_s + 60 >= l.t_s
)

select
    s.session_id,
    case when h.at_s - h.shown_s <= 600 then h.held_pct end as value,
    case when h.at_s - h.shown_s <= 600 then sqrt(h.step_pct ** 2 / 12 + (coalesce(h.pct_per_s, 0) * h.u_s) ** 2) end as uncertainty,
    h.onset_s as from_s,
    h.at_s as to_s,
    case when h.at_s - h.shown_s <= 600 then case when h.noted then 'fallback' else 'measured' end else 'none' end as status,
    case
        when h.at_s is null then 'no onset was found'
        when h.shown_s is null or h.at_s - h.shown_s > 600 then 'no displayed charge near that moment'
        when h.noted then 'from notes'
        when h.ended then 'the charge ended before the power fell'
    end as note
from session s left join shown h using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
