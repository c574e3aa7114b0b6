-- view:   energy
-- title:  Energy into pack, inlet and heater over the spans that figures use
-- reads:  session(session_id), onset(session_id, t_s, u_s), plug_in(session_id, t_s, u_s),
--         piece(session_id, quantity, t0, t1, kw0, kw1, bridged, step_kw, u_abs_kw),
--         power(session_id, u_rel, basis, offset_u_s, basis_name), inlet(session_id, u_rel, basis, noted, offset_u_s, basis_name),
--         heater(session_id, u_rel, noted, offset_u_s, basis_name)
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

-- What is one for all rows of a source.
sources as (
    select session_id, 'pack' as quantity, max(u_rel) as u_rel, bool_or(basis >= 3) as worse, max(offset_u_s) as offset_u_s, any_value(basis_name) as basis_name
    from power
    group by session_id
    union all
    select session_id, 'inlet', max(u_rel), bool_or(basis >= 3 or noted), max(offset_u_s), any_value(basis_name) from inlet group by session_id
    union all
    select session_id, 'heater', max(u_rel), bool_or(noted), max(offset_u_s), any_value(basis_name) from heater group by session_id
),

ends as (
    select p.session_id, p.quantity, max(p.t1) as last_s, any_value(s.worse) as worse, any_value(s.u_rel) as u_rel,
        any_value(s.offset_u_s) as offset_u_s, any_value(s.basis_name) as basis_name
    from piece p join sources s on p.session_id = s.session_id and p.quantity = s.quantity
    group by p.session_id, p.quantity
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

clipped as (
    select
        w.session_id, w.quantity, w.span, p.kw0, p.kw1, p.t0, p.t1, p.bridged, p.u_abs_kw, p.step_kw,
        greatest(p.t0, w.from_s) as a,
        least(p.t1, w.to_s) as b
    from piece p
    join wanted w on p.session_id = w.session_id and p.quantity = w.quantity and p.t1 > w.from_s and p.t0 < w.to_s
),

run_up as (
    select
        session_id, quantity, span,
        sum((2 * kw0 + (kw1 - kw0) * (a + b - 2 * t0) / (t1 - t0)) / 2 * (b - a)) filter (where bridged) / 3600 as kwh,
        sum(b - a) filter (where bridged) as bridged_s,
        sum(abs(2 * kw0 + (kw1 - kw0) * (a + b - 2 * t0) / (t1 - t0)) / 2 * (b - a)) filter (where not bridged) / 3600 as gap_kwh,
        sum(((kw1 - kw0) ** 2 + step_kw ** 2) * (b - a) ** 2) filter (where bridged) / 12 / 3600 ** 2 as var_kwh,
        sum(u_abs_kw * (b - a)) filter (where bridged) / 3600 as load_kwh,
        arg_min(kw0 + (kw1 - kw0) * (a - t0) / (t1 - t0), a) as from_kw,
        arg_max(greatest(kw0, kw1), b) as to_kw
    from clipped
    group by session_id, quantity, span
),

sums as (
    select
        w.*,
        coalesce(r.kwh, 0) as kwh,
        w.to_s - w.from_s - coalesce(r.bridged_s, 0) as unbridged_s,
        coalesce(r.gap_kwh, 0) as gap_kwh,
        coalesce(r.var_kwh, 0) as var_kwh,
        coalesce(r.load_kwh, 0) as load_kwh,
        coalesce(r.from_kw, 0) as from_kw,
        coalesce(r.to_kw, 0) as to_kw
    from wanted w
    left join run_up r on w.session_id = r.session_id and w.quantity = r.quantity and w.span = r.span
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
