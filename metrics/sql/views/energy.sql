-- view:   energy
-- title:  Energy into pack, inlet and heater over the spans that figures use
-- reads:  session(session_id), onset(session_id, t_s, u_s), plug_in(session_id, t_s, u_s),
--         piece(session_id, quantity, t0, t1, kw0, kw1, bridged, step_kw, u_rel, u_abs_kw, worse, offset_u_s, basis_name,
--         sum_kwh, sum_s, sum_gap_kwh, sum_var_kwh, sum_load_kwh)
--
-- A row for every session, quantity (pack, inlet, heater) and span. Spans start
-- at the plug-in that the charge came from: before-onset, session (to the last
-- row), and 5min to 60min. Trapezoids are clipped to the span. Time without rows
-- is left out; what the mean of its ends would have given is uncertainty.
-- Standard uncertainty, combined as in JCGM 100, 5.1.2:
-- * sampling: within a pair of rows a step may lie anywhere, so each pair has
--   (difference x time) / sqrt(12), independent of the others;
-- * the last digit, step/sqrt(12) in each row, independent;
-- * the instrument, u_rel x energy + u_abs x time, the same in all rows;
-- * the span's ends: power there times the ends' uncertainty, that of the
--   source's own clock with it.
-- status and note are as figures give them: none with the reason where there is
-- no source, no onset for before-onset, or a log that ends within the span.

with

quantities (quantity, missing) as (
    values
        ('pack', 'power into the pack is not known'),
        ('inlet', 'no power at the inlet is known'),
        ('heater', 'the heater was not logged')
),

spans (span, length_s) as (
    values
        ('before-onset', null), ('session', null), ('5min', 300), ('10min', 600), ('15min', 900), ('20min', 1200),
        ('30min', 1800), ('45min', 2700), ('60min', 3600)
),

ends as (
    select
        session_id, quantity, max(t1) as last_s, bool_or(worse) as worse, max(u_rel) as u_rel,
        any_value(offset_u_s) as offset_u_s, any_value(basis_name) as basis_name
    from piece
    group by session_id, quantity
),

wanted as (
    select
        s.session_id, q.quantity, q.missing, x.span, x.length_s, e.last_s, e.worse, e.u_rel, e.offset_u_s, e.basis_name,
        o.t_s as onset_s, p.t_s as from_s, p.u_s as from_u_s,
        case x.span when 'before-onset' then o.t_s when 'session' then e.last_s else p.t_s + x.length_s end as to_s,
        case x.span when 'before-onset' then o.u_s when 'session' then 0 else p.u_s end as to_u_s
    from session s
    cross join quantities q
    cross join spans x
    left join plug_in p on s.session_id = p.session_id
    left join onset o on s.session_id = o.session_id
    left join ends e on s.session_id = e.session_id and q.quantity = e.quantity
),

moments as (
    select distinct session_id, quantity, from_s as t_s from wanted where from_s is not null and last_s is not null
    union
    select distinct session_id, quantity, to_s from wanted where to_s is not null and last_s is not null
),

inside as (
    select m.session_id, m.quantity, m.t_s, p.* exclude (session_id, quantity), least(m.t_s, p.t1) - p.t0 as dt
    from moments m
    asof join piece p on m.session_id = p.session_id and m.quantity = p.quantity and m.t_s >= p.t0
),

run_up as (
    select
        session_id, quantity, t_s,
        kw0 + (kw1 - kw0) * dt / (t1 - t0) as kw,
        greatest(kw0, kw1) as high_kw,
        sum_kwh + case when bridged then (2 * kw0 + (kw1 - kw0) * dt / (t1 - t0)) / 2 * dt / 3600 else 0 end as kwh,
        sum_s + case when bridged then dt else 0 end as bridged_s,
        sum_gap_kwh + case when bridged then 0 else abs(2 * kw0 + (kw1 - kw0) * dt / (t1 - t0)) / 2 * dt / 3600 end as gap_kwh,
        sum_var_kwh + case when bridged then ((kw1 - kw0) ** 2 + step_kw ** 2) * dt ** 2 / 12 / 3600 ** 2 else 0 end as var_kwh,
        sum_load_kwh + case when bridged then u_abs_kw * dt / 3600 else 0 end as load_kwh
    from inside
),

sums as (
    select
        w.*,
        coalesce(b.kwh, 0) - coalesce(a.kwh, 0) as kwh,
        w.to_s - w.from_s - (coalesce(b.bridged_s, 0) - coalesce(a.bridged_s, 0)) as unbridged_s,
        coalesce(b.gap_kwh, 0) - coalesce(a.gap_kwh, 0) as gap_kwh,
        greatest(coalesce(b.var_kwh, 0) - coalesce(a.var_kwh, 0), 0) as var_kwh,
        coalesce(b.load_kwh, 0) - coalesce(a.load_kwh, 0) as load_kwh,
        coalesce(a.kw, 0) as from_kw,
        coalesce(b.high_kw, 0) as to_kw
    from wanted w
    left join run_up a on w.session_id = a.session_id and w.quantity = a.quantity and w.from_s = a.t_s
    left join run_up b on w.session_id = b.session_id and w.quantity = b.quantity and w.to_s = b.t_s
),

judged as (
    select
        *,
        case
            when span = 'before-onset' and onset_s is null then 'no onset was found'
            when last_s is null then missing
            when length_s is not null and last_s < to_s then format('the log ends {:.0f} s after the plug-in', last_s - from_s)
        end as reason
    from sums
)

select
    session_id, quantity, span, from_s, case when reason is null or span not in ('before-onset', 'session') then to_s end as to_s,
    case when reason is null then kwh end as kwh,
    case when reason is null then sqrt(
        var_kwh + (u_rel * kwh + load_kwh) ** 2 + gap_kwh ** 2
        + from_kw ** 2 * (from_u_s ** 2 + offset_u_s ** 2) / 3600 ** 2
        + to_kw ** 2 * (to_u_s ** 2 + offset_u_s ** 2) / 3600 ** 2) end as u_kwh,
    case when reason is not null then 'none' when worse then 'fallback' else 'measured' end as status,
    case
        when reason is not null then reason
        when unbridged_s > 60 then format('{}; {:.0f} s without rows are left out', basis_name, unbridged_s)
        else basis_name
    end as note,
    unbridged_s
from judged
order by session_id, quantity, span
