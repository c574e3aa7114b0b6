-- figure: taper_soc
-- title:  Displayed charge from which the power falls
-- unit:   %
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), onset(session_id, t_s), peak(session_id, taper_s, taper_u_s, end_s),
--         charge_level(session_id, t_s, line, held_pct, step_pct, told)
-- method: definition is ours
--
-- What the display showed at the last moment with 80 % of the session's peak power
-- or more (view peak; 80 % is ours), in a line between the rows before and after; the
-- one before not older than 600 s (the channel's hold). A charge that was ended by hand
-- before it fell shows where it was ended, and the note says so. Uncertainty: a step of
-- the display and what it rose between the two rows, rectangular (JCGM 100, 4.3.7), and
-- its pace times the uncertainty of the moment.

with

moments as (
    select p.session_id, o.t_s as onset_s, p.taper_s as at_s, p.taper_u_s as u_s, p.taper_s >= p.end_s - 60 as ended
    from peak p join onset o using (session_id)
    where o.t_s is not null
),

levels as (
    select session_id, t_s, held_pct, step_pct, told, lead(t_s) over w as next_s, lead(held_pct) over w as next_pct
    from charge_level
    window w as (partition by session_id order by t_s, line)
),

near as (
    select
        m.*, c.t_s as shown_s, c.step_pct, c.told,
        c.held_pct + case when c.next_s > c.t_s then (c.next_pct - c.held_pct) * (m.at_s - c.t_s) / (c.next_s - c.t_s) else 0 end as pct,
        case when c.next_s > c.t_s then abs(c.next_pct - c.held_pct) else 0 end as rise_pct
    from moments m asof left join levels c on m.session_id = c.session_id and m.at_s >= c.t_s
),

shown as (
    select n.*, coalesce(abs(l.held_pct - b.held_pct) / (2 * greatest(2 * n.u_s, 60)), 0) as pct_per_s
    from near n
    asof left join charge_level b on n.session_id = b.session_id and n.at_s - greatest(2 * n.u_s, 60) >= b.t_s
    asof left join charge_level l on n.session_id = l.session_id and n.at_s + greatest(2 * n.u_s, 60) >= l.t_s
)

select
    s.session_id,
    case when h.at_s - h.shown_s <= 600 then h.pct end as value,
    case when h.at_s - h.shown_s <= 600 then sqrt((h.step_pct ** 2 + h.rise_pct ** 2) / 12 + (h.pct_per_s * h.u_s) ** 2) end as uncertainty,
    h.onset_s as from_s,
    h.at_s as to_s,
    case when h.at_s - h.shown_s <= 600 then case when h.told is not null then 'fallback' else 'measured' end else 'none' end as status,
    case
        when h.at_s is null then 'no onset was found'
        when h.shown_s is null or h.at_s - h.shown_s > 600 then 'no displayed charge near that moment'
        when h.told is not null then h.told
        when h.ended then 'the charge ended before the power fell'
    end as note
from session s left join shown h using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
