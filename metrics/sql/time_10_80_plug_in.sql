-- figure: time_10_80_plug_in
-- title:  From plug-in to 80 %, from 10 %
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), crossing(session_id, level_pct, kind, from_s, to_s, t_s, u_s, noted),
--         charge_level(session_id, t_s, soc_pct), onset(session_id, t_s, u_s), plug_in(session_id, t_s, u_s)
-- method: definition is ours
--
-- The delay from plug-in to onset and the time from the display's 10 % to its 80 %,
-- added: what a driver who arrives frozen at 10 % waits. A start below 10 % thus
-- costs nothing.
-- A log that shows more than 10 % when the charge begins, or ends below 80 %, has no
-- value: it is never guessed and never ranked. Where the display shows just 10 % at
-- the onset, the time counts from the onset, with one step of the display as
-- uncertainty. Pauses count.

with

levels as (
    select s.session_id, 10 as low_pct, 80 as high_pct
    from session s
    where s.procedure in ('cold-charge', 'warm-charge')
),

reached as (
    select session_id, min(level_pct) as first_pct, max(level_pct) as last_pct from crossing group by session_id
)

select
    l.session_id,
    (b.t_s - a.t_s + o.t_s - p.t_s) / 60 as value,
    sqrt(a.u_s ** 2 + b.u_s ** 2 + o.u_s ** 2 + p.u_s ** 2) / 60 as uncertainty,
    p.t_s as from_s,
    b.to_s,
    case when a.t_s is null or b.t_s is null then 'none' when a.noted then 'fallback' else 'measured' end as status,
    case
        when o.t_s is null then 'no onset was found'
        when r.first_pct is null then 'the display was not logged'
        when r.first_pct > l.low_pct then format('shows {} % when the charge begins, above {} %', r.first_pct, l.low_pct)
        when r.last_pct < l.high_pct then format('ends at {} %, below {} %', r.last_pct, l.high_pct)
        when a.t_s is null or b.t_s is null then 'the display skipped a level'
        when a.noted then format('{} to {} %, from notes', l.low_pct, l.high_pct)
        when a.kind = 'start' then format('{} to {} %; the display showed {} % when the charge began', l.low_pct, l.high_pct, l.low_pct)
        else format('{} to {} %', l.low_pct, l.high_pct)
    end as note
from levels l
left join onset o using (session_id)
left join plug_in p using (session_id)
left join reached r using (session_id)
left join crossing a on l.session_id = a.session_id and a.level_pct = l.low_pct and l.high_pct > l.low_pct
left join crossing b on l.session_id = b.session_id and b.level_pct = l.high_pct and l.high_pct > l.low_pct
order by l.session_id
