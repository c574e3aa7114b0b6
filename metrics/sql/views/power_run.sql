-- view:   power_run
-- title:  Runs of rows with and without power into the pack
-- reads:  power(session_id, t_s, t_us, line, kw, hold_s, blur_s, before_us, before_kw, bridged), power_span(session_id, last_s),
--         basis(session_id, quantity, basis), protocol(onset_kw)
--
-- From the plug-in on, rows that follow each other, no further apart than the source's
-- hold, and all have at least onset_kw into the pack (charging) or all less: from t_s to
-- run_end_s. bridged: not further than the hold from the row before it. below_s: the last row without charge before it. cut: of several rows, and
-- the end of the log or a gap cuts it short.
-- A dropout ends no run: a single row below, beside which two or more rows on either side
-- are not, those next to it no further apart than the hold. Without that row, too, the run
-- would have gone on; a logger that writes 0 where it read nothing does so for a row at a
-- time (ours). It has a row of its own here (dropout).

with

-- From basis 5 on the power itself rests on a note or on the display.
logged as (
    select b.session_id, p.onset_kw from basis b cross join protocol p where b.quantity = 'pack' and b.basis <= 4
),

turns as materialized (
    select r.session_id, r.t_s, r.line, r.hold_s, r.blur_s, r.bridged, r.kw >= l.onset_kw as charging, case when r.before_us >= 0 then r.before_us / 1e6 end as before_s
    from power r join logged l using (session_id)
    where r.t_us >= 0
        and (r.before_us is null or r.before_us < 0 or not r.bridged or (r.kw >= l.onset_kw) <> (r.before_kw >= l.onset_kw))
),

-- Rows between two edges are alike: a run of charge, or none.
edges as (
    select e.*, coalesce(lead(e.before_s) over (partition by e.session_id order by e.t_s, e.line), l.last_s) as run_end_s
    from turns e join power_span l using (session_id)
),

marked as materialized (
    select
        *,
        coalesce(
            not charging and bridged and run_end_s = t_s
            and lag(charging) over w and lag(run_end_s > t_s) over w
            and lead(charging) over w and lead(run_end_s > t_s) over w and lead(bridged) over w
            and lead(t_s) over w - before_s <= hold_s, false) as dropout
    from edges
    window w as (partition by session_id order by t_s, line)
),

-- Without dropouts, and without the edges at which the charge is back after them.
sound as materialized (
    select e.* replace (coalesce(lead(e.before_s) over (partition by e.session_id order by e.t_s, e.line), l.last_s) as run_end_s)
    from (select *, coalesce(lag(dropout) over (partition by session_id order by t_s, line), false) as back from marked) e
    join power_span l using (session_id)
    where not e.dropout and not e.back
),

runs as (
    select
        *,
        max(case when not charging then run_end_s end) over (w rows between unbounded preceding and 1 preceding) as below_s,
        charging and run_end_s > t_s and (not bridged or not coalesce(lead(bridged) over w, false)) as cut
    from sound
    window w as (partition by session_id order by t_s, line)
)

select session_id, t_s, line, charging, bridged, run_end_s, blur_s, below_s, cut, false as dropout from runs
union all
select session_id, t_s, line, charging, bridged, run_end_s, blur_s, null, false, true from marked where dropout
