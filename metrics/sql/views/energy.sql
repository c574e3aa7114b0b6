-- view:   energy
-- title:  Energy into pack, inlet and heater over the spans that figures use
-- reads:  power(session_id, t_s, line, kw, hold_s, u_rel, u_abs_kw, step_kw, noted, basis, offset_u_s, basis_name),
--         inlet(session_id, t_s, line, kw, hold_s, u_rel, u_abs_kw, step_kw, noted, basis, offset_u_s, basis_name),
--         heater(session_id, t_s, line, kw, hold_s, u_rel, u_abs_kw, step_kw, noted, offset_u_s, basis_name),
--         onset(session_id, t_s, u_s), plug_in(session_id, t_s, u_s)
--
-- Each source is integrated at its own rows, by trapezoids clipped to the span,
-- never over a resampled grid. Rows further apart than the source's hold are
-- not joined: that stretch is left out, its time is unbridged_s, and what the
-- mean of its ends would have given is added to the uncertainty.
-- Standard uncertainty, combined as in JCGM 100, 5.1.2:
-- * sampling: within a pair of rows a step may lie anywhere, so each pair has
--   (difference x time) / sqrt(12), independent of the others;
-- * the last digit, step/sqrt(12) in each row, independent;
-- * the instrument, u_rel x energy + u_abs x time, the same in all rows;
-- * the span's ends: power there times the ends' uncertainty, that of the
--   source's own clock with it.
-- Spans start at the plug-in that the charge came from: before-onset, session
-- (to the last row), 30min, 60min.

with

rows_of as (
    select session_id, 'pack' as quantity, t_s, line, kw, hold_s, u_rel, u_abs_kw, step_kw, noted, basis >= 3 as worse, offset_u_s, basis_name from power
    union all
    select session_id, 'inlet', t_s, line, kw, hold_s, u_rel, u_abs_kw, step_kw, noted, basis >= 3 or noted, offset_u_s, basis_name from inlet
    union all
    select session_id, 'heater', t_s, line, kw, hold_s, u_rel, u_abs_kw, step_kw, noted, noted, offset_u_s, basis_name from heater
),

piece as (
    select
        session_id, quantity, kw as kw0, t_s as t0,
        lead(t_s) over w as t1,
        lead(kw) over w as kw1,
        hold_s, u_rel, u_abs_kw, step_kw, worse, offset_u_s, basis_name
    from rows_of
    window w as (partition by session_id, quantity order by t_s, line)
),

ends as (
    select session_id, quantity, max(t_s) as last_s from rows_of group by session_id, quantity
),

span as (
    select e.session_id, e.quantity, x.span, p.t_s as from_s,
        case x.span when 'before-onset' then o.t_s when 'session' then e.last_s when '30min' then p.t_s + 1800 else p.t_s + 3600 end as to_s,
        p.u_s as from_u_s,
        case x.span when 'before-onset' then o.u_s when 'session' then 0 else p.u_s end as to_u_s,
        e.last_s
    from ends e
    join plug_in p using (session_id)
    left join onset o using (session_id)
    cross join (values ('before-onset'), ('session'), ('30min'), ('60min')) as x (span)
),

clipped as (
    select
        s.session_id, s.quantity, s.span,
        p.* exclude (session_id, quantity),
        greatest(p.t0, s.from_s) as a,
        least(p.t1, s.to_s) as b,
        p.t1 - p.t0 <= p.hold_s as bridged
    from span s
    join piece p on s.session_id = p.session_id and s.quantity = p.quantity and p.t1 > s.from_s and p.t0 < s.to_s and p.t1 > p.t0
),

parts as (
    select
        *,
        kw0 + (kw1 - kw0) * (a - t0) / (t1 - t0) as kwa,
        kw0 + (kw1 - kw0) * (b - t0) / (t1 - t0) as kwb,
        b - a as dt
    from clipped
),

sums as (
    select
        session_id, quantity, span,
        coalesce(sum((kwa + kwb) / 2 * dt) filter (where bridged), 0) / 3600 as kwh,
        coalesce(sum(dt) filter (where bridged), 0) as bridged_s,
        coalesce(sum(abs(kwa + kwb) / 2 * dt) filter (where not bridged), 0) / 3600 as gap_kwh,
        coalesce(sum(((kw1 - kw0) * dt) ** 2 / 12 + (step_kw * dt) ** 2 / 12) filter (where bridged), 0) / 3600 ** 2 as var_rows,
        coalesce(sum(u_abs_kw * dt) filter (where bridged), 0) / 3600 as u_load_kwh,
        max(u_rel) as u_rel,
        arg_min(kwa, a) as kw_from,
        arg_max(greatest(kw0, kw1), b) as kw_to,
        any_value(worse) as worse,
        any_value(offset_u_s) as offset_u_s,
        any_value(basis_name) as basis_name
    from parts
    group by all
)

select
    s.session_id, s.quantity, s.span, s.from_s, s.to_s, s.last_s,
    coalesce(e.kwh, 0) as kwh,
    coalesce(sqrt(e.var_rows + (e.u_rel * e.kwh + e.u_load_kwh) ** 2 + e.gap_kwh ** 2
        + e.kw_from ** 2 * (s.from_u_s ** 2 + e.offset_u_s ** 2) / 3600 ** 2
        + e.kw_to ** 2 * (s.to_u_s ** 2 + e.offset_u_s ** 2) / 3600 ** 2), 0) as u_kwh,
    s.to_s - s.from_s - coalesce(e.bridged_s, 0) as unbridged_s,
    e.worse,
    e.basis_name
from span s
left join sums e on s.session_id = e.session_id and s.quantity = e.quantity and s.span = e.span
where s.to_s is not null
order by s.session_id, s.quantity, s.span
