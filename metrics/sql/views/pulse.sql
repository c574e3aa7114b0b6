-- view:   pulse
-- title:  The highest power out of the pack and back into it as a drive begins
-- reads:  trip(session_id, to_s), power(session_id, t_s, line, kw, hold_s), basis(session_id, quantity, basis, u_rel, step_kw, noted, basis_name),
--         protocol(drive_first_min)
--
-- Means over 10 s, a length of pulse by which packs are commonly rated (common practice,
-- no source), of the rows in the 10 s that end with each, within the protocol's first
-- minutes of the drive. direction: out or back; kw is
-- positive in both, and 0 where the pack never got anything back. Only sessions whose
-- log has a row every 5 s or oftener in the mean (5.5 s: some may be missing), and no gap of more than 15 s: others
-- miss what lasts 10 s.
-- Uncertainty: the instrument, the last digit, and the sampling, (difference of
-- neighbouring rows)^2/12 each, over the rows of the mean; and a quarter of the step
-- to the higher neighbour, since the highest 10 s may begin between two rows (ours).
-- reason says why there is none.

with

early as (
    select
        t.session_id, p.t_s, p.line, -p.kw as kw, b.step_kw,
        p.kw - lag(p.kw) over (partition by p.session_id order by p.t_s, p.line) as change_kw,
        p.t_s - lag(p.t_s) over (partition by p.session_id order by p.t_s, p.line) as since_s,
        l.drive_first_min * 60 as first_s
    from trip t
    cross join protocol l
    join power p on t.session_id = p.session_id
    join basis b on t.session_id = b.session_id and b.quantity = 'pack' and b.basis <= 2
    where p.t_s >= 0 and p.t_s <= l.drive_first_min * 60
),

covered as (
    select
        session_id, max(t_s) as last_s, (max(t_s) - min(t_s)) / nullif(count(*) - 1, 0) as interval_s,
        coalesce(sum(since_s) filter (where since_s > 15), 0) as gap_s
    from early
    group by session_id
),

means as (
    select
        *,
        avg(kw) over w as mean_kw,
        count(*) over w as n,
        coalesce(sum(change_kw ** 2) over w, 0) as change_kw2,
        t_s - min(t_s) over w as width_s
    from early
    window w as (partition by session_id order by t_s range between 9.5 preceding and current row)
),

placed as (
    select
        m.*, d.sign, d.direction, d.sign * m.mean_kw as pulse_kw,
        greatest(lag(d.sign * m.mean_kw) over w, lead(d.sign * m.mean_kw) over w) as beside_kw
    from means m cross join (values (1, 'out'), (-1, 'back')) d (sign, direction)
    window w as (partition by m.session_id, d.direction order by m.t_s, m.line)
),

tops as (
    -- The first rows of a log are no 10 s.
    select p.*
    from placed p join covered c using (session_id)
    where p.n >= 2 and p.width_s + c.interval_s >= 9 and p.width_s <= 9.5
    qualify row_number() over (partition by p.session_id, p.direction order by p.pulse_kw desc, p.change_kw2, p.t_s, p.line) = 1
),

wanted as (
    select t.session_id, t.to_s as drive_s, d.direction, l.drive_first_min as first_min, c.last_s, c.interval_s, c.gap_s, b.u_rel, b.noted, b.basis_name
    from trip t
    cross join protocol l
    cross join (values ('out'), ('back')) d (direction)
    left join covered c on t.session_id = c.session_id
    left join basis b on t.session_id = b.session_id and b.quantity = 'pack'
),

judged as (
    select
        w.*, t.pulse_kw, t.t_s, t.n, t.change_kw2, t.beside_kw, t.step_kw,
        case
            when w.last_s is null then 'the pack''s power is not known'
            when w.interval_s > 5.5 then format('a row every {:.0f} s misses what lasts 10 s', w.interval_s)
            when w.gap_s > 0 then format('{:.0f} s of the first {:.0f} min have no rows', w.gap_s, w.first_min)
            when w.last_s < w.first_min * 60 - 30 then format('the log ends {:.0f} s after the start', w.last_s)
            when t.session_id is null then 'no 10 s of rows'
        end as reason
    from wanted w left join tops t on w.session_id = t.session_id and w.direction = t.direction
)

select
    session_id, direction, first_min,
    case when reason is null then greatest(pulse_kw, 0) end as kw,
    case when reason is null then sqrt(
        (u_rel * pulse_kw) ** 2 + step_kw ** 2 / 12 / n + change_kw2 / 12 / n ** 2
        + (coalesce(pulse_kw - least(beside_kw, pulse_kw), 0) / 4) ** 2) end as u_kw,
    case when reason is null then greatest(t_s - 9.5, 0) end as from_s,
    case when reason is null then t_s end as to_s,
    case when reason is not null then 'none' when noted then 'fallback' else 'measured' end as status,
    coalesce(reason, basis_name) as note
from judged
order by session_id, direction
