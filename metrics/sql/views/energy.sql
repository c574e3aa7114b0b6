-- view:   energy
-- title:  Energy into pack, inlet and loads over the spans that figures use
-- reads:  session(session_id), onset(session_id, t_s, u_s), peak(session_id, end_s, end_u_s), plug_in(session_id, t_s, u_s),
--         piece(session_id, quantity, t0, t1, kw0, kw1, bridged, u_abs_kw, var_kwh_s2, before_kwh, before_bridged_s, before_gap_kwh,
--         before_var_kwh, before_load_kwh),
--         basis(session_id, quantity, u_rel, ends_kwh, worse, offset_u_s, basis_name)
--
-- A row for every session, quantity (pack, inlet, heater, cabin, accessory) and
-- span. Spans start at the plug-in that the charge came from: before-onset,
-- session (to the last row), and 5min to 60min; but charge goes from the onset to
-- the end of the charge (view peak). Trapezoids are clipped to the span. Time without rows
-- is left out; what the mean of its ends would have given is uncertainty, and
-- where it is more than a quarter of the span there is no value (ours).
-- Standard uncertainty, combined as in JCGM 100, 5.1.2:
-- * sampling: within a pair of rows a step may lie anywhere, so each pair has
--   (difference x time) / sqrt(12), independent of the others;
-- * the last digit, step/sqrt(12) in each row, independent; of a register once
--   at each end;
-- * the instrument, u_rel x energy + u_abs x time, the same in all rows;
-- * the span's ends: power there times the ends' uncertainty, that of the
--   source's own clock with it.
-- status and note are as figures give them: none with the reason where there is
-- no source, no onset for before-onset and charge, or a log that ends within the span.

with

quantities (quantity, missing) as (
    values
        ('pack', 'power into the pack is not known'),
        ('inlet', 'no power at the inlet is known'),
        ('heater', 'the heater was not logged'),
        ('cabin', 'the cabin''s heater was not logged'),
        ('accessory', 'accessories were not logged')
),

spans (span, length_s) as (
    values
        ('before-onset', null), ('session', null), ('charge', null), ('5min', 300), ('10min', 600), ('15min', 900), ('20min', 1200),
        ('30min', 1800), ('45min', 2700), ('60min', 3600)
),

ends as (
    select session_id, quantity, max(t1) as last_s from piece group by session_id, quantity
),

wanted as (
    select
        s.session_id, q.quantity, q.missing, x.span, x.length_s, e.last_s, c.worse, c.u_rel, c.ends_kwh, c.offset_u_s, c.basis_name,
        o.t_s as onset_s,
        case x.span when 'charge' then o.t_s else p.t_s end as from_s,
        case x.span when 'charge' then o.u_s else p.u_s end as from_u_s,
        case x.span when 'before-onset' then o.t_s when 'session' then e.last_s when 'charge' then k.end_s else p.t_s + x.length_s end as to_s,
        case x.span when 'before-onset' then o.u_s when 'session' then 0 when 'charge' then k.end_u_s else p.u_s end as to_u_s
    from session s
    cross join quantities q
    cross join spans x
    left join plug_in p on s.session_id = p.session_id
    left join onset o on s.session_id = o.session_id
    left join peak k on s.session_id = k.session_id
    left join ends e on s.session_id = e.session_id and q.quantity = e.quantity
    left join basis c on s.session_id = c.session_id and q.quantity = c.quantity
),

-- Up to a moment: the pieces before the one that holds it, and a part of that one.
moments as (
    select session_id, quantity, from_s as t from wanted where from_s is not null
    union
    select session_id, quantity, to_s from wanted where to_s is not null
),

up_to as (
    select
        m.session_id, m.quantity, m.t, p.t0, p.t1, p.bridged, p.var_kwh_s2, p.kw0, p.kw1,
        least(m.t, p.t1) - p.t0 as part_s,
        p.kw0 + (p.kw1 - p.kw0) * (least(m.t, p.t1) - p.t0) / (p.t1 - p.t0) as kw,
        p.before_kwh, p.before_bridged_s, p.before_gap_kwh, p.before_var_kwh, p.before_load_kwh, p.u_abs_kw
    from moments m asof join piece p on m.session_id = p.session_id and m.quantity = p.quantity and m.t >= p.t0
),

sums as (
    select
        *,
        before_kwh + case when bridged then (kw0 + kw) / 2 * part_s / 3600 else 0 end as kwh,
        before_bridged_s + case when bridged then part_s else 0 end as bridged_s,
        before_gap_kwh + case when bridged then 0 else abs((kw0 + kw) / 2 * part_s / 3600) end as gap_kwh,
        before_load_kwh + case when bridged then u_abs_kw * part_s / 3600 else 0 end as load_kwh,
        case when bridged then var_kwh_s2 else 0 end as var_s2
    from up_to
),

spanned as (
    select
        w.*,
        -- Sums less sums leave a rest of rounding; a tenth of a microwatt hour is none.
        round(coalesce(b.kwh, 0) - coalesce(a.kwh, 0), 10) as kwh,
        w.to_s - w.from_s - coalesce(b.bridged_s, 0) + coalesce(a.bridged_s, 0) as unbridged_s,
        coalesce(b.gap_kwh, 0) - coalesce(a.gap_kwh, 0) as gap_kwh,
        coalesce(b.load_kwh, 0) - coalesce(a.load_kwh, 0) as load_kwh,
        -- Pieces cut by an end count with what is left of them.
        case
            when b.t0 is null then 0
            when a.t0 is null then b.before_var_kwh + b.var_s2 * b.part_s ** 2
            when a.t0 = b.t0 then b.var_s2 * (b.part_s - a.part_s) ** 2
            else b.before_var_kwh - a.before_var_kwh - a.var_s2 * (a.t1 - a.t0) ** 2
                + a.var_s2 * (a.t1 - a.t0 - a.part_s) ** 2 + b.var_s2 * b.part_s ** 2
        end as var_kwh,
        coalesce(a.kw, 0) as from_kw,
        coalesce(greatest(b.kw0, b.kw1), 0) as to_kw
    from wanted w
    left join sums a on w.session_id = a.session_id and w.quantity = a.quantity and w.from_s = a.t
    left join sums b on w.session_id = b.session_id and w.quantity = b.quantity and w.to_s = b.t
),

judged as (
    select
        *,
        case
            when span in ('before-onset', 'charge') and (onset_s is null or to_s is null) then 'no onset was found'
            when last_s is null then missing
            when length_s is not null and last_s < to_s then format('the log ends {:.0f} s after the plug-in', last_s - from_s)
            when to_s > from_s and unbridged_s > 0.25 * (to_s - from_s) then format('{:.0f} of {:.0f} s have no rows', unbridged_s, to_s - from_s)
        end as reason
    from spanned
)

select
    session_id, quantity, span, from_s, case when reason is null or span not in ('before-onset', 'session', 'charge') then to_s end as to_s,
    case when reason is null then kwh end as kwh,
    case when reason is null then sqrt(
        greatest(var_kwh, 0) + ends_kwh ** 2 + (u_rel * kwh + load_kwh) ** 2 + gap_kwh ** 2
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
