-- view:   energy
-- title:  Energy into pack, inlet and loads over the spans that figures use
-- reads:  session(session_id), onset(session_id, t_s, t_us, u_s), peak(session_id, end_s, end_u_s), plug_in(session_id, t_s, t_us, u_s), unplugged(session_id, t_s, t_us, told),
--         piece(session_id, quantity, us0, us1, kw0, kw1, bridged, u_abs_kw),
--         basis(session_id, quantity, u_rel, step_kw, ends_kwh, worse, noted, offset_u_s, basis_name, hold_s, to_s)
--
-- A row for every session, quantity (pack, inlet, heater, cabin, accessory) and
-- span. Spans start at the plug-in that the charge came from: before-onset,
-- session (to the quantity's own last row), shared (to where the first of pack and inlet
-- has its last row, for what is set beside each other), and 5min to 60min; but charge goes
-- from the onset to the end of the charge (view peak). Where it is known when the cable was pulled
-- (view unplugged), all end there at the latest: nothing flows in from then on, whether the
-- log goes on by then or ended within the source's hold before it, and the note of those of
-- 5 to 60 min says so. Trapezoids are clipped to the span.
-- Time without rows is left out, be it between two rows, before the first or after the last;
-- what the mean of its ends would have given is uncertainty, at an end of the log what the
-- row there would, and where it is more than a quarter of the span there is no value (ours).
-- Nor is there one for the pack's session where its log ends before the onset, nor of pack
-- and inlet for shared where more than a tenth of what either tells of comes after it (ours).
-- Standard uncertainty, combined as in JCGM 100, 5.1.2:
-- * sampling: within a pair of rows a step may lie anywhere, so each pair has
--   (difference x time) / sqrt(12), independent of the others;
-- * the last digit, step/sqrt(12) in each row, independent; of a register once
--   at each end;
-- * the instrument, u_rel x energy + u_abs x time, the same in all rows;
-- * the span's ends: power there times the ends' uncertainty, that of the
--   source's own clock with it; that of an onset up to twice the uncertainty
--   after the span, too, since it may lie within.
-- status and note are as figures give them: none with the reason where there is
-- no source, no onset for before-onset and charge, or a log that ends within the span. Notes have
-- no rows to be missed: where they are too far apart, it says that only they tell.

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
        ('before-onset', null), ('session', null), ('shared', null), ('charge', null), ('5min', 300), ('10min', 600), ('15min', 900), ('20min', 1200),
        ('30min', 1800), ('45min', 2700), ('60min', 3600)
),

-- The moments at which spans begin and end cut a session into cells; cut_us is where a cell ends. What lies within a cell is summed with the
-- others there; the few pieces that reach over a cut, begin at one or are not bridged, edge_us telling them apart, are each a cell of their own
-- and looked at one by one. The division of whole microseconds rounds down, so mark_us lies a microsecond less than 300 s before the plug-in.
shares as (
    select session_id, min(to_s) as to_s from basis where quantity in ('pack', 'inlet') group by session_id
),

moments as (
    select
        p.session_id, p.t_us as plug_us, p.t_us - 299999999 as mark_us, o.t_us as onset_us, floor(k.end_s * 1000000 + 0.25)::bigint as end_us,
        (h.to_s * 1000000)::bigint as shared_us, d.t_us as off_us, d.t_s as off_s, d.told as off_told
    from plug_in p
    left join unplugged d on p.session_id = d.session_id
    left join onset o on p.session_id = o.session_id
    left join peak k on p.session_id = k.session_id
    left join shares h on p.session_id = h.session_id
),

cuts as (
    select session_id, plug_us, mark_us, at_us[1] as cut1_us, at_us[2] as cut2_us, at_us[3] as cut3_us, off_us
    from (select *, list_sort([onset_us, end_us, shared_us], 'asc', 'nulls last') as at_us from moments)
),

placed as (
    select
        *, us1 - us0 as us, (kw1 - kw0) * (us1 - us0) as change_kwus,
        least(
            plug_us + (us0 - mark_us) // 300000000 * 300000000,
            case when us0 <= cut1_us then cut1_us when us0 <= cut2_us then cut2_us when us0 <= cut3_us then cut3_us end) as cut_us
    from (
        -- Of the pair of rows between which the cable was pulled the second says nothing of the charge.
        select
            p.* replace (case when p.us1 >= m.off_us then p.kw0 else p.kw1 end as kw1, p.bridged and coalesce(p.us1 < m.off_us, true) as bridged),
            m.* exclude (session_id)
        from piece p join cuts m on p.session_id = m.session_id
        where coalesce(p.us0 < m.off_us, true)
    )
),

cells as materialized (
    select
        session_id, quantity, cut_us, case when not bridged or us1 > cut_us then us0 end as edge_us,
        min(us0) as first_us, arg_min(kw0, us0) as first_kw, max(us1) as last_us, arg_max(kw1, us1) as last_kw,
        sum((kw0 + kw1) * us) / 2 / 3600e6 as kwh,
        sum(us) / 1e6 as bridged_s,
        sum(change_kwus * change_kwus) / 12 / 3600e6 / 3600e6 as change_kwh2,
        sum(us::double * us) / 12 / 3600e6 / 3600e6 as digit_h2,
        sum(u_abs_kw * us) / 3600e6 as load_kwh,
        any_value(kw0) as kw0, any_value(kw1) as kw1, any_value(u_abs_kw) as u_abs_kw, any_value(bridged) as bridged
    from placed
    group by session_id, quantity, cut_us, edge_us
),

edges as materialized (
    select session_id, quantity, edge_us / 1e6 as t0, last_us / 1e6 as t1, kw0, kw1, u_abs_kw, bridged from cells where edge_us is not null
),

ends as (
    select
        session_id, quantity, min(first_us) / 1e6 as first_s, arg_min(first_kw, first_us) as first_kw, max(last_us) / 1e6 as last_s, arg_max(last_kw, last_us) as last_kw
    from cells
    group by session_id, quantity
),

wanted as materialized (
    select
        s.session_id, q.quantity, q.missing, x.span, x.length_s, e.first_s, e.first_kw, e.last_s, e.last_kw, c.worse, c.noted, c.u_rel, c.step_kw, c.ends_kwh, c.offset_u_s, c.basis_name, c.hold_s,
        o.t_s as onset_s,
        case x.span when 'charge' then o.t_s else p.t_s end as from_s,
        case x.span when 'charge' then o.u_s else p.u_s end as from_u_s,
        case x.span
            when 'before-onset' then o.t_s
            when 'session' then least(e.last_s, m.off_s)
            when 'shared' then least(coalesce(h.to_s, e.last_s), m.off_s)
            when 'charge' then k.end_s
            else least(p.t_s + x.length_s, m.off_s)
        end as to_s,
        case when m.off_s < p.t_s + x.length_s then format('; {} {:.0f} s after the plug-in', m.off_told, m.off_s - p.t_s) else '' end as pulled,
        case x.span when 'before-onset' then o.u_s when 'session' then 0 when 'shared' then 0 when 'charge' then k.end_u_s else p.u_s end as to_u_s,
        case x.span when 'charge' then m.onset_us else m.plug_us end as from_us,
        -- The greatest number: to the last cell, wherever that ends.
        case x.span
            when 'before-onset' then m.onset_us
            when 'session' then 9223372036854775807
            when 'shared' then coalesce(m.shared_us, 9223372036854775807)
            when 'charge' then m.end_us
            else m.plug_us + x.length_s * 1000000::bigint
        end as to_us
    from session s
    cross join quantities q
    cross join spans x
    left join plug_in p on s.session_id = p.session_id
    left join onset o on s.session_id = o.session_id
    left join peak k on s.session_id = k.session_id
    left join shares h on s.session_id = h.session_id
    left join moments m on s.session_id = m.session_id
    left join ends e on s.session_id = e.session_id and q.quantity = e.quantity
    left join basis c on s.session_id = c.session_id and q.quantity = c.quantity
),

clipped as (
    select
        w.session_id, w.quantity, w.span, p.bridged, p.u_abs_kw, w.step_kw, p.kw0, p.kw1, p.t0, p.t1,
        greatest(p.t0, w.from_s) as a,
        least(p.t1, w.to_s) as b
    from wanted w join edges p on w.session_id = p.session_id and w.quantity = p.quantity and p.t1 > w.from_s and p.t0 < w.to_s
),

parts as (
    select
        w.session_id, w.quantity, w.span, c.kwh, c.bridged_s, 0::double as gap_kwh,
        c.change_kwh2 + w.step_kw ** 2 * c.digit_h2 as var_kwh, c.load_kwh
    from wanted w join cells c on w.session_id = c.session_id and w.quantity = c.quantity and c.cut_us > w.from_us and c.cut_us <= w.to_us
    where c.edge_us is null
    union all
    select
        session_id, quantity, span,
        case when bridged then (2 * kw0 + (kw1 - kw0) * (a + b - 2 * t0) / (t1 - t0)) / 2 * (b - a) / 3600 end,
        case when bridged then b - a end,
        case when not bridged then abs((2 * kw0 + (kw1 - kw0) * (a + b - 2 * t0) / (t1 - t0)) / 2 * (b - a)) / 3600 end,
        case when bridged then ((kw1 - kw0) ** 2 + step_kw ** 2) * (b - a) ** 2 / 12 / 3600 ** 2 end,
        case when bridged then u_abs_kw * (b - a) / 3600 end
    from clipped
),

sums as (
    select session_id, quantity, span, fsum(kwh) as kwh, fsum(bridged_s) as bridged_s, fsum(gap_kwh) as gap_kwh, fsum(var_kwh) as var_kwh, fsum(load_kwh) as load_kwh
    from parts
    group by session_id, quantity, span
),

at_ends as (
    select
        w.session_id, w.quantity, w.span,
        max(case when p.t0 <= w.from_s and p.t1 > w.from_s then p.kw0 + (p.kw1 - p.kw0) * (w.from_s - p.t0) / (p.t1 - p.t0) end) as from_kw,
        max(case when p.t0 <= w.to_s + 2 * coalesce(w.to_u_s, 0) and p.t1 > w.to_s then greatest(p.kw0, p.kw1) end) as to_kw
    from wanted w join edges p on w.session_id = p.session_id and w.quantity = p.quantity
    group by w.session_id, w.quantity, w.span
),

spanned as (
    select
        w.*,
        -- In parallel the order of adding is not always the same; a microwatt hour is beyond any instrument.
        round(coalesce(s.kwh, 0), 9) as kwh,
        -- Differences of doubles: a quarter must be a quarter, and nothing not less.
        round(w.to_s - w.from_s - coalesce(s.bridged_s, 0), 6) + 0 as unbridged_s,
        coalesce(s.gap_kwh, 0)
            + coalesce(abs(w.first_kw) * greatest(least(w.first_s, w.to_s) - w.from_s, 0), 0) / 3600
            + coalesce(abs(w.last_kw) * greatest(w.to_s - greatest(w.last_s, w.from_s), 0), 0) / 3600 as gap_kwh,
        coalesce(s.load_kwh, 0) as load_kwh,
        coalesce(s.var_kwh, 0) as var_kwh,
        coalesce(e.from_kw, 0) as from_kw,
        coalesce(e.to_kw, 0) as to_kw
    from wanted w
    left join sums s on w.session_id = s.session_id and w.quantity = s.quantity and w.span = s.span
    left join at_ends e on w.session_id = e.session_id and w.quantity = e.quantity and w.span = e.span
),

whole as (
    select *, sum(kwh) filter (where span = 'session') over (partition by session_id, quantity) as session_kwh from spanned
),

set_beside as (
    select
        *,
        -- Of one of the two it says that the other's share is not the whole either.
        max(case when span = 'shared' and quantity in ('pack', 'inlet') and abs(session_kwh - kwh) > 0.1 * abs(session_kwh)
            then format('{:.2f} of {:.2f} kWh {} log had ended', session_kwh - kwh, session_kwh,
                case quantity when 'pack' then 'into the pack came after the charger''s' else 'from the charger came after the car''s' end)
        end) over (partition by session_id) as beyond
    from whole
),

judged as (
    select
        *,
        case
            when span in ('before-onset', 'charge') and onset_s is null then 'no onset was found'
            when last_s is null then missing
            when (span = 'charge' or quantity = 'pack' and span in ('session', 'shared')) and onset_s >= last_s
                then case when noted then 'no power was noted after the charge began' else 'the log ends before the charge began' end
            when span = 'charge' and to_s is null then 'no end of the charge was found'
            when span = 'shared' and quantity in ('pack', 'inlet') and beyond is not null then beyond
            when length_s is not null and last_s < to_s - case when pulled <> '' then hold_s else 0 end
                then format(case when noted then 'the last power was noted {:.0f} s after the plug-in' else 'the log ends {:.0f} s after the plug-in' end, last_s - from_s)
            when to_s > from_s and unbridged_s > 0.25 * (to_s - from_s)
                then case when noted then 'known only from notes' else format('{:.0f} of {:.0f} s have no rows', unbridged_s, to_s - from_s) end
        end as reason
    from set_beside
)

select
    session_id, quantity, span, from_s, case when reason is null or span not in ('before-onset', 'session', 'shared', 'charge') then to_s end as to_s,
    case when reason is null then kwh end as kwh,
    case when reason is null then sqrt(
        var_kwh + ends_kwh ** 2 + (u_rel * kwh + load_kwh) ** 2 + gap_kwh ** 2
        + from_kw ** 2 * (from_u_s ** 2 + offset_u_s ** 2) / 3600 ** 2
        + to_kw ** 2 * (to_u_s ** 2 + offset_u_s ** 2) / 3600 ** 2) end as u_kwh,
    case when reason is not null then 'none' when worse then 'fallback' else 'measured' end as status,
    case
        when reason is not null then reason
        when unbridged_s > 60 then format('{}; {:.0f} s without rows are left out{}', basis_name, unbridged_s, pulled)
        else basis_name || pulled
    end as note,
    unbridged_s
from judged
