-- figure: time_window
-- title:  Time over the common window
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), crossing(session_id, level_pct, kind, from_s, to_s, t_s, u_s, noted),
--         charge_level(session_id, t_s, soc_pct), onset(session_id, t_s, u_s), protocol(window_from_pct, window_to_pct)
-- method: definition is ours
--
-- From the display's lower to its upper end of the common window, both after the
-- onset (view crossing). The window is the protocol's, or the largest that every
-- session that may be ranked covers; the edition says which. The delay is not in it.
-- A log that does not cover the window has no value. Where the display shows just the
-- lower end at the onset, the time counts from the onset, with one step of the
-- display as uncertainty. Pauses count.

with

levels as (
    select s.session_id, cast(p.window_from_pct as bigint) as low_pct, cast(p.window_to_pct as bigint) as high_pct
    from session s cross join protocol p
    where s.procedure in ('cold-charge', 'warm-charge')
),

reached as (
    select session_id, min(level_pct) as first_pct, max(level_pct) as last_pct from crossing group by session_id
)

select
    l.session_id,
    (b.t_s - a.t_s) / 60 as value,
    sqrt(a.u_s ** 2 + b.u_s ** 2) / 60 as uncertainty,
    a.from_s as from_s,
    b.to_s,
    case when a.t_s is null or b.t_s is null then 'none' when a.noted then 'fallback' else 'measured' end as status,
    case
        when l.high_pct <= l.low_pct then 'there is no common window'
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
left join reached r using (session_id)
left join crossing a on l.session_id = a.session_id and a.level_pct = l.low_pct and l.high_pct > l.low_pct
left join crossing b on l.session_id = b.session_id and b.level_pct = l.high_pct and l.high_pct > l.low_pct
order by l.session_id
