-- figure: delay_to_half_peak
-- title:  Plug-in to half of the peak
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), plug_in(session_id, t_s, u_s), smooth(session_id, t_us, mean_kw, next_us),
--         charged(session_id, t_us, mean_kw, at_s, at_u_s), power_span(session_id, last_s, u_abs_kw),
--         basis(session_id, quantity, step_kw, worse, basis_name), peak(session_id, peak_kw, gap_kw), onset(session_id, status, from_s, t_s)
-- method: definition is ours
--
-- From the plug-in that led to the charge to the first mean over 10 s (view smooth) of
-- at least half of the session's own peak, once the charge has begun: a pack that is
-- still cold begins far below what it can (ours). It lies after the row before and not
-- before the onset; where the row at the onset is as high it is the onset (view charged,
-- with its uncertainty). Half of the 10 s, the moment of the plug-in and how much an error
-- of power moves it come to that. There is no value without an onset, where the
-- peak was a burst before it, or where power into the pack is not known.

with

reached as materialized (
    select
        c.session_id, min(c.t_us) as t_us, min(c.t_us) / 1e6 as t_s, arg_min(c.at_s, (c.t_us, c.at_s)) as at_s, arg_min(c.at_u_s, (c.t_us, c.at_s)) as at_u_s,
        any_value(p.peak_kw) as peak_kw, any_value(p.gap_kw) as gap_kw
    from charged c join peak p using (session_id)
    where c.mean_kw >= p.peak_kw / 2
    group by c.session_id
),

-- How fast it rises there turns an error of power into one of time.
-- The last rows a minute before and a minute after it. Where a note or the display tells of
-- the onset, the rise from a row long before it began with the onset.
near as materialized (
    select
        session_id, t_us / 1e6 as t_s, mean_kw,
        t_us <= from_us and coalesce(next_us > from_us, true) as early,
        t_us <= to_us and coalesce(next_us > to_us, true) as late
    from (
        select m.session_id, m.t_us, m.next_us, m.mean_kw, r.from_us, r.to_us
        from smooth m join (select session_id, t_us - 60000000 as from_us, t_us + 60000000 as to_us from reached) r using (session_id)
        where m.t_us <= r.to_us and coalesce(m.next_us > r.from_us, true)
    )
),

risen as (
    select r.session_id, r.t_s, r.at_s, r.at_u_s, r.peak_kw, r.gap_kw,
        case when b.session_id is not null then greatest( -- greatest passes over NULL
            (l.mean_kw - b.mean_kw)
                / nullif(l.t_s - case when o.status = 'found' then b.t_s else greatest(b.t_s, least(o.from_s, r.t_s - 60)) end, 0),
            0.001) end as kw_per_s
    from reached r
    join onset o using (session_id)
    left join near b on r.session_id = b.session_id and b.early
    left join near l on r.session_id = l.session_id and l.late
),

sources as (
    select b.session_id, b.worse, b.basis_name, l.last_s, sqrt(l.u_abs_kw ** 2 + b.step_kw ** 2 / 12) as noise_kw
    from basis b join power_span l using (session_id)
    where b.quantity = 'pack'
)

select
    s.session_id,
    case when r.t_s is not null then r.at_s - i.t_s end / 60 as value,
    sqrt(r.at_u_s ** 2 + 5 ** 2 / 3 + i.u_s ** 2 + coalesce((greatest(k.noise_kw, 0.5 * r.gap_kw, 0.005 * r.peak_kw) / r.kw_per_s) ** 2, 0)) / 60 as uncertainty,
    i.t_s as from_s,
    coalesce(r.t_s, k.last_s) as to_s,
    case
        when r.t_s is not null then case when k.worse then 'fallback' else 'measured' end
        else 'none'
    end as status,
    case
        when r.t_s is not null then k.basis_name
        when k.last_s is null then 'power into the pack is not known'
        when o.t_s is null then 'no onset was found'
        else 'half of the peak was not seen after the charge began'
    end as note
from session s
left join plug_in i using (session_id)
left join risen r using (session_id)
left join sources k using (session_id)
left join onset o using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
