-- view:   onset
-- title:  The moment from which the pack takes energy
-- reads:  session(session_id), power_run(session_id, t_s, charging, run_end_s, blur_s, below_s, cut, dropout),
--         basis(session_id, quantity, basis, offset_u_s, basis_name, worse),
--         event(session_id, kind, t_s, width_s), shown_onset(session_id, from_s, to_s, offset_u_s),
--         protocol(onset_sustained_s)
--
-- Onset is the start of the first run of rows with at least onset_kw into the
-- pack that lasts onset_sustained_s, without a row below, but for dropouts, and without
-- a gap longer than its source's hold (view power_run). dropouts: how many lie in the first
-- onset_sustained_s of the run.
-- The onset lies after the last row below and not after the first row of the run,
-- and not before the cable was plugged in: from_s to to_s; t_s is the middle, and the width a rectangular distribution (JCGM 100,
-- 4.3.7). A run of several rows that the end of the log or a gap cuts short is no onset,
-- but may be part of a longer one; where no other run lasts, the onset is later than the last row below before it,
-- and no more is known (status beyond, to_s; cut where there was such a run).
-- No published value says how much or how long: the definition is ours; the
-- precedent for asking that something lasts is the three consecutive minutes of
-- 40 CFR 86.230-94.
-- A note of when the charge began (status seen) counts where no row contradicts
-- it: where no power is known but the charger's, where the log ended before, and
-- within a gap of the log that it narrows down. A person looks now and then:
-- 60 s of standard uncertainty (ours) come to the width of the note.
-- Where neither tells, steps of the display do (status shown, view shown_onset).
-- status: found, seen, shown, beyond, none. t_us is t_s in whole microseconds,
-- as in the view plug_in.

with

lasting as (
    select r.session_id, greatest(least(coalesce(r.below_s, 0), r.t_s - r.blur_s), 0) as below_s, r.t_s as to_s
    from power_run r cross join protocol p
    where r.charging and r.run_end_s - r.t_s >= p.onset_sustained_s
),

first_run as materialized (
    select session_id, below_s, to_s from lasting qualify row_number() over (partition by session_id order by to_s) = 1
),

plugged as (
    select session_id, t_s, max(width_s) as width_s from event where kind = 'plug-in' group by session_id, t_s
),

found as materialized (
    select f.session_id, greatest(f.below_s, least(coalesce(p.t_s - p.width_s / 2, 0), f.to_s)) as from_s, f.to_s
    from first_run f asof left join plugged p on f.session_id = p.session_id and f.to_s >= p.t_s
),

dropped as (
    select f.session_id, count(*) as n
    from first_run f join power_run m on f.session_id = m.session_id cross join protocol p
    where m.dropout and m.t_s between f.to_s and f.to_s + p.onset_sustained_s
    group by f.session_id
),

sources as (
    select * from basis where quantity = 'pack'
),

last_below as (
    select
        session_id, coalesce(min(case when cut then coalesce(below_s, 0) end), max(case when not charging then run_end_s end), 0) as t_s,
        bool_or(cut) as cut
    from power_run
    where not dropout
    group by session_id
),

noted as (
    select
        e.session_id, min(e.t_s) as t_s, arg_min(e.width_s, (e.t_s, e.width_s)) as width_s,
        sqrt(arg_min(e.width_s, (e.t_s, e.width_s)) ** 2 / 12 + 60 ** 2) as u_s
    from event e
    left join found f using (session_id)
    left join last_below b using (session_id)
    where e.kind = 'onset-seen' and e.t_s >= 0
        and e.t_s + e.width_s / 2 >= coalesce(f.from_s, b.t_s, 0) and e.t_s <= coalesce(f.to_s, 'infinity'::double)
    group by e.session_id
),

decided as (
    select
        s.session_id,
        case
            when f.session_id is not null and coalesce(n.u_s < (f.to_s - f.from_s) / sqrt(12), false) then 'seen'
            when f.session_id is not null then 'found'
            when n.session_id is not null then 'seen'
            when o.basis <= 4 and b.session_id is not null then 'beyond'
            when h.session_id is not null then 'shown'
            else 'none'
        end as status,
        f.from_s as found_from_s, f.to_s as found_to_s,
        n.t_s as noted_s, n.width_s as noted_width_s, n.u_s as noted_u_s,
        h.from_s as shown_from_s, h.to_s as shown_to_s, h.offset_u_s as shown_offset_u_s,
        b.t_s as below_s, b.cut, o.worse, o.basis_name, o.offset_u_s, d.n as dropouts
    from session s
    left join found f using (session_id)
    left join sources o using (session_id)
    left join noted n using (session_id)
    left join shown_onset h using (session_id)
    left join last_below b using (session_id)
    left join dropped d using (session_id)
),

placed as (
    select
        *,
        case status
            when 'found' then found_from_s
            when 'seen' then greatest(noted_s - noted_width_s / 2, 0)
            when 'shown' then shown_from_s
            when 'beyond' then 0
        end as from_s,
        case status
            when 'found' then found_to_s
            when 'seen' then noted_s + noted_width_s / 2
            when 'shown' then shown_to_s
            when 'beyond' then below_s
        end as to_s
    from decided
)

select
    session_id, status, from_s, to_s,
    case when status = 'seen' then noted_s when status in ('found', 'shown') then (from_s + to_s) / 2 end as t_s,
    case status
        when 'found' then sqrt((to_s - from_s) ** 2 / 12 + offset_u_s ** 2)
        when 'seen' then noted_u_s
        when 'shown' then sqrt((to_s - from_s) ** 2 / 12 + shown_offset_u_s ** 2)
    end as u_s,
    case status
        when 'seen' then 'a note of when the charge was seen'
        when 'shown' then 'steps of the displayed charge'
        else basis_name
    end as basis_name,
    status in ('seen', 'shown') or coalesce(worse, false) as worse,
    case when status = 'found' then coalesce(dropouts, 0) else 0 end as dropouts,
    status = 'beyond' and cut as cut,
    floor(t_s * 1000000 + 0.25)::bigint as t_us
from placed
order by session_id
