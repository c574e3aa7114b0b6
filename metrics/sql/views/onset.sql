-- view:   onset
-- title:  The moment from which the pack takes energy
-- reads:  session(session_id), power(session_id, t_s, line, kw, basis, noted, offset_u_s, hold_s, basis_name),
--         event(session_id, kind, t_s, width_s), protocol(onset_kw, onset_sustained_s)
--
-- Onset is the start of the first run of rows with at least onset_kw into the
-- pack that lasts onset_sustained_s, without a row below and without a gap
-- longer than its source's hold. It lies after the last row without and not
-- after the first row with: from_s to to_s, the middle is t_s, and the width is
-- a rectangular distribution (JCGM 100, 4.3.7). A run that the end of the log
-- cuts short before it has lasted is no onset.
-- No published value says how much or how long: the definition is ours; the
-- precedent for asking that something lasts is the three consecutive minutes of
-- 40 CFR 86.230-94.
-- Where only the charger's power is known, the onset is when a person saw the
-- charge begin. A person looks now and then: 60 s of standard uncertainty
-- (ours) come to the width of the note.
-- status: found, seen, beyond (not until to_s, the end of the log), none.

with

rows_after as (
    select *, lag(t_s) over w as before_s, lead(t_s) over w as after_s
    from power
    where basis < 4
    window w as (partition by session_id order by t_s, line)
),

marked as (
    select
        r.*,
        r.kw >= p.onset_kw as charging,
        r.t_s - r.before_s > r.hold_s as after_gap,
        p.onset_sustained_s
    from rows_after r cross join protocol p
    where r.t_s >= 0
),

runs as (
    select
        *,
        sum(case when not charging or after_gap or not coalesce(was_charging, false) then 1 else 0 end)
            over (partition by session_id order by t_s, line) as run
    from (select *, lag(charging) over (partition by session_id order by t_s, line) as was_charging from marked)
),

lasting as (
    select
        session_id, run,
        greatest(arg_min(coalesce(before_s, 0), t_s), 0) as from_s,
        min(t_s) as to_s
    from runs
    where charging
    group by session_id, run
    having max(t_s) - min(t_s) >= any_value(onset_sustained_s)
),

found as (
    select distinct on (session_id) session_id, from_s, to_s from lasting order by session_id, to_s
),

sources as (
    select
        session_id, any_value(basis) as basis, any_value(basis_name) as basis_name, any_value(offset_u_s) as offset_u_s,
        bool_or(noted) as noted, max(t_s) as last_s
    from power
    group by session_id
),

seen as (
    select session_id, min(t_s) as t_s, arg_min(width_s, t_s) as width_s
    from event
    where kind = 'onset-seen' and t_s >= 0
    group by session_id
),

decided as (
    select
        s.session_id,
        case
            when f.session_id is not null then 'found'
            when coalesce(o.basis, 4) = 4 and e.session_id is not null then 'seen'
            when o.basis < 4 and o.last_s > 0 then 'beyond'
            else 'none'
        end as status,
        f.from_s as found_from_s, f.to_s as found_to_s, e.t_s as seen_s, e.width_s as seen_width_s,
        o.last_s, o.basis, o.basis_name, o.offset_u_s
    from session s
    left join found f using (session_id)
    left join sources o using (session_id)
    left join seen e using (session_id)
),

placed as (
    select
        *,
        case status when 'found' then found_from_s when 'seen' then seen_s - seen_width_s / 2 when 'beyond' then 0 end as from_s,
        case status when 'found' then found_to_s when 'seen' then seen_s + seen_width_s / 2 when 'beyond' then last_s end as to_s
    from decided
)

select
    session_id, status, from_s, to_s,
    case when status in ('found', 'seen') then (from_s + to_s) / 2 end as t_s,
    case status
        when 'found' then sqrt((to_s - from_s) ** 2 / 12 + offset_u_s ** 2)
        when 'seen' then sqrt(seen_width_s ** 2 / 12 + 60 ** 2)
    end as u_s,
    case status when 'seen' then 'a note of when the charge was seen' else basis_name end as basis_name,
    status = 'seen' or coalesce(basis >= 3, false) as worse
from placed
order by session_id
