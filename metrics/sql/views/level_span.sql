-- view:   level_span
-- title:  Time from one displayed level of charge to another
-- reads:  session(session_id), protocol(window_from_pct, window_to_pct), onset(session_id, t_s),
--         crossing(session_id, level_pct, kind, from_s, to_s, t_s, u_s, told)
--
-- A row for every session and span: 10-80, 20-80, 10-50, 20-60, 50-80 and common, the window of the
-- protocol or the one that the tool chose. Both ends are crossed after the onset
-- (view crossing). A log that shows more than the lower level when the charge
-- begins, or ends below the upper one, has no value: it is never guessed. Where
-- the display shows just the lower level at the onset, the time counts from the
-- onset (from_onset), with one step of the display and the onset's own uncertainty.
-- Pauses count. status and note are as figures give them.

with

spans as (
    select '10-80' as span, 10::bigint as low_pct, 80::bigint as high_pct
    union all
    select '20-80', 20, 80
    union all
    select '10-50', 10, 50
    union all
    select '20-60', 20, 60
    union all
    select '50-80', 50, 80
    union all
    select 'common', window_from_pct::bigint, window_to_pct::bigint from protocol
),

reached as (
    select session_id, min(level_pct) as first_pct, max(level_pct) as last_pct from crossing group by session_id
),

found as (
    select
        s.session_id, x.span, x.low_pct, x.high_pct, coalesce(a.told, b.told) as told, a.kind, a.from_s, b.to_s,
        b.t_s - a.t_s as s, sqrt(a.u_s ** 2 + b.u_s ** 2) as u_s,
        case
            when x.high_pct <= x.low_pct then 'there is no common window'
            when o.t_s is null then 'no onset was found'
            when r.first_pct is null then 'the display was not logged'
            when r.first_pct > x.low_pct then format('shows {} % when the charge begins, above {} %', r.first_pct, x.low_pct)
            when r.last_pct < x.high_pct then format('ends at {} %, below {} %', r.last_pct, x.high_pct)
        end as reason
    from session s
    cross join spans x
    left join onset o on s.session_id = o.session_id
    left join reached r on s.session_id = r.session_id
    left join crossing a on s.session_id = a.session_id and a.level_pct = x.low_pct
    left join crossing b on s.session_id = b.session_id and b.level_pct = x.high_pct
)

select
    session_id, span,
    case when reason is null then from_s end as from_s,
    case when reason is null then to_s end as to_s,
    case when reason is null then s / 60 end as min,
    case when reason is null then u_s / 60 end as u_min,
    coalesce(kind = 'start', false) as from_onset,
    case when reason is not null then 'none' when told is not null then 'fallback' else 'measured' end as status,
    case
        when reason is not null then reason
        when told is not null then format('{} to {} %, {}', low_pct, high_pct, told)
        when kind = 'start' then format('{} to {} %; the display showed {} % when the charge began', low_pct, high_pct, low_pct)
        else format('{} to {} %', low_pct, high_pct)
    end as note
from found
order by session_id, span
