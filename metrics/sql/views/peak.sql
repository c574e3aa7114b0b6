-- view:   peak
-- title:  The highest power into the pack, and where the charge ended
-- reads:  smooth(session_id, t_us, hold_s, mean_kw, before_us, next_us), power_derived(session_id, t_us, kw, u_abs_kw), onset(session_id, t_us),
--         plug_in(session_id, t_s), power_span(session_id, u_abs_kw), basis(session_id, quantity, u_rel, step_kw, worse, noted, basis_name), protocol(onset_kw)
--
-- peak_kw is the highest mean over 10 s (view smooth) and peak_s when it ended.
-- Its uncertainty: the instrument, the last digit, and a quarter of the step to
-- the higher of the two neighbours, since the peak may lie between two rows; of
-- notes, and of a row beside a gap longer than its source's hold, a tenth of the value, since
-- people note now and then and the power may have been higher in the gap (ours): gap_kw.
-- end_s is the row after the last one with at least onset_kw: the end of the
-- charge. taper_s is the last moment with 80 % of the peak or more (ours): from
-- there on the power only falls. end_u_s and taper_u_s are the widths of their
-- pairs of rows, rectangular (JCGM 100, 4.3.7); with the taper, how much earlier
-- half a percent of the peak more, or the noise or gap_kw if that is larger, would have put it.

with

-- Where a heater switches between two of its rows, the charger's power less it may
-- leap: such rows have more than twice the usual uncertainty and are no peak.
leaps as materialized (
    select d.session_id, d.t_us
    from power_derived d
    join (select session_id, 2 * median(u_abs_kw) + 0.01 as most_kw from power_derived where kw > 1 group by session_id) u using (session_id)
    where d.u_abs_kw > u.most_kw
),

highest as (
    select s.session_id, max(s.mean_kw) as mean_kw
    from smooth s anti join leaps l on s.session_id = l.session_id and s.t_us = l.t_us
    group by s.session_id
),

highest_rows as materialized (
    select s.session_id, s.t_us, s.mean_kw, s.before_us, s.next_us,
        coalesce(s.t_us - s.before_us > s.hold_s * 1e6, false) or coalesce(s.next_us - s.t_us > s.hold_s * 1e6, false) as by_gap
    from smooth s join highest h on s.session_id = h.session_id and s.mean_kw = h.mean_kw
        anti join leaps l on s.session_id = l.session_id and s.t_us = l.t_us
    qualify row_number() over (partition by s.session_id order by s.t_us, s.next_us) = 1
),

beside as (
    select s.session_id, max(s.mean_kw) as kw
    from smooth s join highest_rows t on s.session_id = t.session_id
    where s.t_us = t.before_us or s.t_us = t.next_us
    group by s.session_id
),

top as (
    select t.*, b.kw as beside_kw from highest_rows t left join beside b using (session_id)
),

means as (
    select b.session_id, b.u_rel, l.u_abs_kw, b.step_kw, b.worse, b.noted, b.basis_name from basis b join power_span l using (session_id) where b.quantity = 'pack'
),

ends as (
    select s.session_id, max(coalesce(s.next_us, s.t_us)) / 1e6 as end_s, arg_max(coalesce(s.next_us, s.t_us) - s.t_us, s.t_us) / 1e6 as end_width_s
    from smooth s join onset o using (session_id) cross join protocol p
    where s.mean_kw >= p.onset_kw and s.t_us >= o.t_us
    group by s.session_id
),

peaks as materialized (
    select
        *,
        sqrt((u_rel * mean_kw) ** 2 + u_abs_kw ** 2 + step_kw ** 2 / 12 + ((mean_kw - coalesce(beside_kw, mean_kw)) / 4) ** 2 + gap_kw ** 2) as u_kw,
        sqrt(u_abs_kw ** 2 + step_kw ** 2 / 12) as noise_kw
    from (
        select t.*, m.*exclude (session_id), case when m.noted or t.by_gap then 0.1 * t.mean_kw else 0 end as gap_kw
        from top t join means m using (session_id)
    )
),

-- The instrument's share is in the peak and in the later rows alike; noise is not.
tapers as (
    select
        s.session_id, max(coalesce(s.next_us, s.t_us)) / 1e6 as taper_s, arg_max(coalesce(s.next_us, s.t_us) - s.t_us, s.t_us) / 1e6 as taper_width_s,
        (max(coalesce(s.next_us, s.t_us)) - max(case when s.mean_kw >= t.sure_kw then coalesce(s.next_us, s.t_us) end)) / 1e6 as taper_noise_s
    from smooth s join (select session_id, 0.8 * mean_kw as least_kw, 0.8 * mean_kw + greatest(noise_kw, 0.8 * gap_kw, 0.005 * mean_kw) as sure_kw from peaks) t using (session_id)
    where s.mean_kw >= t.least_kw
    group by s.session_id
)

select
    t.session_id, t.mean_kw as peak_kw, t.t_us / 1e6 as peak_s, i.t_s as plug_s, t.u_kw as peak_u_kw, t.gap_kw,
    e.end_s - e.end_width_s / 2 as end_s, e.end_width_s / sqrt(12) as end_u_s,
    a.taper_s - a.taper_width_s / 2 as taper_s, sqrt(a.taper_width_s ** 2 / 12 + coalesce(a.taper_noise_s, 0) ** 2) as taper_u_s,
    t.worse, t.noted, t.basis_name
from peaks t
join plug_in i using (session_id)
left join ends e using (session_id)
left join tapers a using (session_id)
order by t.session_id
