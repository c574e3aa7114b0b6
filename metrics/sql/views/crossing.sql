-- view:   crossing
-- title:  When the display passed each whole percent of charge
-- reads:  charge_level(session_id, t_s, line, held_pct, before_s, noted, told, step_pct), onset(session_id, from_s, t_s, u_s),
--         peak(session_id, end_s), power_span(session_id, last_s)
--
-- Only what the display gains after the onset counts: a percent that it gains
-- before any energy flows is a reserve released by warmth, not charge, and one
-- that it gains more than 5 min (ours) after the charge has ended, while power is
-- still logged, is the display making up its mind.
-- A level is crossed between the last row below it and the first row at or
-- above it: from_s to to_s. Where one pair of rows passes n levels, each has an
-- n-th of the time; t_s is the middle of its share, the share's width is
-- rectangular (JCGM 100, 4.3.7). A log's rows more than 10 min apart, the longest
-- that its display is held, hide a charge that may have stood and gone on: any of
-- the levels between may then have been passed at any moment, and the width is all
-- the time between them. Where the onset lies within the pair, the charge began no
-- earlier than it may have, and the onset's own uncertainty comes to it, the less the
-- nearer a level is to the row after. Between notes, and between rows that pass more than two
-- levels, the charge need not have been even, and a note's minute is a minute wide: a tenth of
-- the time between them and, of notes, 60/sqrt(12) s come to it (ours). What the car told the charger may be a percent
-- off the display either way (view charge_level), so twice the time from one level to
-- the next, as a rectangle, comes to it.
-- The level that the display shows at the onset itself counts from the onset
-- (kind 'start'). How far into that level the charge already was is not known:
-- one step of the display, rectangular, at the pace of the next crossing; the onset's
-- own uncertainty comes to it.

with

at_onset as materialized (
    select c.session_id, o.t_s as onset_s, o.from_s as onset_from_s, o.u_s as onset_u_s, arg_max(c.held_pct, (c.t_s, c.line)) as soc_pct
    from charge_level c join onset o using (session_id)
    where c.t_s <= o.t_s + 60
    and (c.t_s <= o.t_s or not exists (from charge_level x where x.session_id = c.session_id and x.t_s <= o.t_s))
    group by all
),

ended as (
    select k.session_id, k.end_s, p.last_s + 300 as logged_s from peak k join power_span p using (session_id)
),

-- The first row of each level, of two notes of one minute the first; then only those that are higher than all before.
reached as (
    select c.session_id, floor(c.held_pct) as level_pct, min(c.t_s) as t1, arg_min(c.before_s, (c.t_s, c.line)) as before_s,
        any_value(c.noted) as noted, any_value(c.told) as told, any_value(c.step_pct) as step_pct, any_value(a.onset_s) as onset_s, any_value(a.onset_from_s) as onset_from_s,
        any_value(a.onset_u_s) as onset_u_s, any_value(floor(a.soc_pct)) as first_pct
    from charge_level c join at_onset a using (session_id) left join ended e using (session_id)
    where c.t_s > a.onset_s and not coalesce(c.t_s > e.end_s + 300 and c.before_s >= e.end_s and c.t_s <= e.logged_s, false)
    group by c.session_id, floor(c.held_pct)
),

risen as (
    select
        session_id, noted, told,
        greatest(coalesce(max(level_pct) over (partition by session_id order by t1, level_pct rows between unbounded preceding and 1 preceding), first_pct), first_pct) as low_pct,
        level_pct as high_pct,
        greatest(coalesce(before_s, onset_s), onset_s) as t0,
        greatest(coalesce(before_s, onset_from_s), onset_from_s) as earliest_s,
        case when coalesce(before_s, onset_s) <= onset_s then onset_u_s else 0 end as u0_s,
        t1
    from reached
),

percents as (
    select unnest(range(1, 101)) as level_pct
),

crossed as (
    select
        r.session_id, r.noted, r.told, p.level_pct, r.high_pct - r.low_pct as levels, r.t0, r.t1, r.u0_s, (p.level_pct - r.low_pct - 0.5) / (r.high_pct - r.low_pct) as share,
        case when r.t1 - r.earliest_s > 600 and not r.noted then r.t1 - r.earliest_s end as whole_s,
        (r.t1 - r.t0) / (r.high_pct - r.low_pct) as share_s
    from risen r join percents p on p.level_pct > r.low_pct and p.level_pct <= r.high_pct
),

placed as (
    select
        session_id, level_pct, t0 as from_s, t1 as to_s, t0 + share * (t1 - t0) as t_s,
        sqrt(coalesce(whole_s ** 2 / 12, share_s ** 2 / 12 + ((1 - share) * u0_s) ** 2)
            + case when noted or levels > 2 and whole_s is null then (0.1 * (t1 - t0)) ** 2 else 0 end + case when noted then 60 ** 2 / 12 else 0 end) as u_s,
        'crossed' as kind, noted, told
    from crossed
),

paced as materialized (
    select * replace (case when noted or told is null then u_s else sqrt(u_s ** 2 + (2 * coalesce(lead(t_s) over w - t_s, t_s - lag(t_s) over w, 0)) ** 2 / 12) end as u_s)
    from placed
    window w as (partition by session_id order by level_pct)
),

started as (
    select
        a.session_id, floor(a.soc_pct)::bigint as level_pct, a.onset_s as from_s, a.onset_s as to_s, a.onset_s as t_s,
        sqrt(coalesce(p.t_s - a.onset_s, 0) ** 2 / 12 + a.onset_u_s ** 2) as u_s,
        'start' as kind, coalesce(p.noted, false) as noted, p.told
    from at_onset a
    left join paced p on a.session_id = p.session_id and p.level_pct = floor(a.soc_pct) + 1
)

select * from started
union all
select * from paced
order by session_id, level_pct
