-- figure: charge_before_log
-- title:  Charge before its log began
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), onset(session_id, status, from_s, to_s), power(session_id, t_us, hold_s)
-- method: definition is ours
--
-- How long the pack may have taken energy before the first row of power that there
-- is after the plug-in: the whole time between, where that row shows the charge
-- running already. Nothing then tells the delay but that it was shorter, nor what
-- flowed before. It is 0 where a row shows the pack at rest first, where the first
-- row follows the plug-in within the log's hold, and where the onset was seen by a
-- person, shown by the display or not found.

with

first_row as (
    select session_id, min(t_us) / 1e6 as t_s, arg_min(hold_s, t_us) as hold_s
    from power
    where t_us >= 0
    group by session_id
),

unlogged as (
    select o.session_id, o.from_s, o.to_s
    from onset o join first_row f on o.session_id = f.session_id and o.to_s = f.t_s
    where o.status = 'found' and o.to_s - o.from_s > f.hold_s
)

select
    s.session_id,
    coalesce(u.to_s - u.from_s, 0) / 60 as value,
    0 as uncertainty,
    u.from_s,
    u.to_s,
    'measured' as status,
    null::varchar as note
from session s left join unlogged u using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
