-- view:   limited
-- title:  Spans in which the charger, not the car, held the power
-- reads:  session(session_id, charger_kw), inlet(session_id, t_s, line, kw, hold_s), basis(session_id, quantity, derived, noted, u_rel),
--         reading(session_id, t_s, charger_limit_kw, pack_limit_kw), onset(session_id, t_s)
--
-- After the onset, a row of the inlet's power counts as held by the charger if it
-- reaches 97 % of what the unit is rated for (session.toml's charger_kw; by 'its
-- rating'), or of what it offers at the time (charger_limit_kw, at most 120 s old;
-- by 'its offer'), and the car, if it says so (pack_limit_kw, at most 60 s old),
-- would take at least 5 % more; of two logs that tell at one moment, the lower. Rows of one run lie no further apart than their
-- source's hold, and a run lasts 60 s at least, but of notes one row will do (all ours). before_gap_s and
-- after_gap_s are how far its ends are from the rows beside it, or from the onset. Where neither rating
-- nor offer is known there is no span. doubtful_s is for how long a run was below the
-- 97 % and within the instrument's uncertainty.

with

offers as (
    select session_id, t_s, min(charger_limit_kw) as kw from reading where charger_limit_kw is not null group by session_id, t_s
),

wishes as (
    select session_id, t_s, min(pack_limit_kw) as kw from reading where pack_limit_kw is not null group by session_id, t_s
),

known as (
    select session_id from session where charger_kw > 0
    union
    select session_id from offers
),

rows_of as (
    select i.session_id, i.t_s, i.line, i.kw, i.hold_s, i.u_rel, i.noted, i.onset_s, s.charger_kw as rated_kw,
        case when i.t_s - o.t_s <= 120 then o.kw end as offered_kw,
        case when i.t_s - c.t_s <= 60 then c.kw end as wished_kw
    from (
        select i.*, b.u_rel, b.noted, n.t_s as onset_s
        from inlet i join onset n using (session_id) join basis b on i.session_id = b.session_id and b.quantity = 'inlet'
        where not b.derived and i.t_s >= n.t_s and i.session_id in (select session_id from known)
    ) i
    join session s on i.session_id = s.session_id
    asof left join offers o on i.session_id = o.session_id and i.t_s >= o.t_s
    asof left join wishes c on i.session_id = c.session_id and i.t_s >= c.t_s
),

marked as (
    select
        *,
        kw >= (0.97 - 2 * u_rel) * least(rated_kw, offered_kw) and kw > 0.5 and coalesce(wished_kw >= 1.05 * kw, true) as held,
        case when kw >= (0.97 - 2 * u_rel) * offered_kw then 'its offer' else 'its rating' end as held_by,
        kw < 0.97 * least(rated_kw, offered_kw) as doubtful,
        lead(t_s) over (partition by session_id order by t_s, line) - t_s as dt_s
    from rows_of
),

runs as (
    select
        *,
        sum(case when held and coalesce(was_held, false) and t_s - before_s <= hold_s then 0 else 1 end) over (partition by session_id order by t_s, line) as run
    from (select *, lag(held) over w as was_held, lag(t_s) over w as before_s from marked window w as (partition by session_id order by t_s, line))
)

select session_id, min(t_s) as from_s, max(t_s) as to_s, arg_min(held_by, (t_s, line)) as held_by, avg(kw) as kw,
    coalesce(sum(case when doubtful then least(dt_s, hold_s) end), 0) as doubtful_s,
    arg_min(least(t_s - coalesce(before_s, onset_s), hold_s), (t_s, line)) as before_gap_s, arg_max(least(coalesce(dt_s, 0), hold_s), (t_s, line)) as after_gap_s
from runs
where held
group by session_id, run
having max(t_s) - min(t_s) >= 60 or any_value(noted)
order by session_id, from_s
