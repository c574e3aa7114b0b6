-- view:   level_power
-- title:  Power into the pack when the display passes a level of charge
-- reads:  session(session_id, procedure), onset(session_id, t_s), crossing(session_id, level_pct, kind, from_s, to_s, t_s, u_s, told),
--         smooth(session_id, t_us, mean_kw, hold_s, next_us), power_span(session_id, u_abs_kw), basis(session_id, quantity, u_rel, step_kw, worse, noted, basis_name)
--
-- The mean over 10 s (view smooth) when the display passes 50 and 80 % (view crossing).
-- Uncertainty: the instrument, the last digit, and what the power changed within twice the
-- crossing's standard uncertainty, at least 30 s, about it, a rectangle (JCGM 100, 4.3.7);
-- of notes, a tenth of the value. status and note are as figures give them.

with

levels as (
    select session_id, level_pct, t_s, from_s, to_s, greatest(2 * u_s, 15) as near_s, told from crossing where level_pct in (50, 80) and kind = 'crossed'
),

-- The last row at each moment: the level's, and the ends of the span about it.
moments as (
    select l.session_id, l.level_pct, ((l.t_s + p.way * l.near_s) * 1000000)::bigint as t_us, p.place
    from levels l cross join (values ('at', 0), ('earlier', -1), ('later', 1)) p (place, way)
),

rows_at as materialized (
    select x.session_id, x.level_pct, x.place, m.mean_kw, m.t_us / 1e6 as t_s, m.hold_s
    from (
        select m.*
        from smooth m join (select session_id, min(t_us) as from_us, max(t_us) as to_us from moments group by session_id) s on m.session_id = s.session_id
        where coalesce(m.next_us > s.from_us, true) and m.t_us <= s.to_us
    ) m
    join moments x on m.session_id = x.session_id
    where m.t_us <= x.t_us and coalesce(m.next_us > x.t_us, true)
),

at_level as (
    select l.*, m.mean_kw, m.t_s as row_s, m.hold_s, b.mean_kw as earlier_kw, a.mean_kw as later_kw
    from levels l
    left join rows_at m on l.session_id = m.session_id and l.level_pct = m.level_pct and m.place = 'at'
    left join rows_at b on l.session_id = b.session_id and l.level_pct = b.level_pct and b.place = 'earlier'
    left join rows_at a on l.session_id = a.session_id and l.level_pct = a.level_pct and a.place = 'later'
),

sources as (
    select b.session_id, b.u_rel, b.step_kw, l.u_abs_kw, b.worse, b.noted, b.basis_name
    from basis b join power_span l using (session_id)
    where b.quantity = 'pack'
)

select
    s.session_id, x.level_pct,
    case when l.t_s - l.row_s <= l.hold_s then l.mean_kw end as value,
    case when l.t_s - l.row_s <= l.hold_s then sqrt(
        (k.u_rel * l.mean_kw) ** 2 + k.step_kw ** 2 / 12 + k.u_abs_kw ** 2
        + (coalesce(l.later_kw, l.mean_kw) - coalesce(l.earlier_kw, l.mean_kw)) ** 2 / 12 + case when k.noted then 0.1 * l.mean_kw else 0 end ** 2) end as u,
    l.from_s,
    l.to_s,
    case when l.t_s - l.row_s <= l.hold_s then case when k.worse or l.told is not null then 'fallback' else 'measured' end else 'none' end as status,
    case
        when l.t_s - l.row_s <= l.hold_s then k.basis_name
        when o.t_s is null then 'no onset was found'
        when l.t_s is null then format('the display did not pass {} % after the onset', x.level_pct)
        else 'no row of power near that moment'
    end as note
from session s
cross join (values (50), (80)) x (level_pct)
left join onset o on s.session_id = o.session_id
left join at_level l on s.session_id = l.session_id and x.level_pct = l.level_pct
left join sources k on s.session_id = k.session_id
where s.procedure in ('cold-charge', 'warm-charge')
