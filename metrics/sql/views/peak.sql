-- view:   peak
-- title:  The highest power into the pack, and where the charge ended
-- reads:  smooth(session_id, t_s, line, mean_kw, next_s, next_kw, before_kw, u_abs_kw, plug_s), onset(session_id, t_s, u_s),
--         power(session_id, u_abs_kw), basis(session_id, quantity, u_rel, step_kw, worse, noted, basis_name), protocol(onset_kw)
--
-- peak_kw is the highest mean over 10 s (view smooth) and peak_s when it ended.
-- Its uncertainty: the instrument, the last digit, and a quarter of the step to
-- the higher of the two neighbours, since the peak may lie between two rows; of
-- notes, a tenth of the value, since people note now and then (ours).
-- end_s is the row after the last one with at least onset_kw: the end of the
-- charge. taper_s is the last moment with 80 % of the peak or more (ours): from
-- there on the power only falls. end_u_s and taper_u_s are the widths of their
-- pairs of rows, rectangular (JCGM 100, 4.3.7); with the taper, how much earlier
-- half a percent of the peak more, or the noise if that is larger, would have put it.

with

-- Where a heater switches between two of its rows, the charger's power less it may
-- leap: such rows have more than twice the usual uncertainty and are no peak.
usual as (
    select session_id, 2 * median(u_abs_kw) + 0.01 as most_kw from smooth where mean_kw > 1 group by session_id
),

top as (
    select s.*, greatest(s.before_kw, s.next_kw) as beside_kw
    from smooth s left join usual u using (session_id)
    where coalesce(s.u_abs_kw <= u.most_kw, true)
    qualify row_number() over (partition by s.session_id order by s.mean_kw desc, s.t_s, s.line) = 1
),

loads as (
    select session_id, max(u_abs_kw) as u_abs_kw from power group by session_id
),

means as (
    select b.session_id, b.u_rel, l.u_abs_kw, b.step_kw, b.worse, b.noted, b.basis_name from basis b join loads l using (session_id) where b.quantity = 'pack'
),

ends as (
    select s.session_id, max(coalesce(s.next_s, s.t_s)) as end_s, arg_max(coalesce(s.next_s, s.t_s) - s.t_s, s.t_s) as end_width_s
    from smooth s join onset o using (session_id) cross join protocol p
    where s.mean_kw >= p.onset_kw and s.t_s >= o.t_s
    group by s.session_id
),

peaks as (
    select
        t.*, m.worse, m.noted, m.basis_name,
        sqrt((m.u_rel * t.mean_kw) ** 2 + m.u_abs_kw ** 2 + m.step_kw ** 2 / 12 + ((t.mean_kw - coalesce(t.beside_kw, t.mean_kw)) / 4) ** 2
            + case when m.noted then 0.1 * t.mean_kw else 0 end ** 2) as u_kw,
        sqrt(m.u_abs_kw ** 2 + m.step_kw ** 2 / 12) as noise_kw
    from top t join means m using (session_id)
),

-- The instrument's share is in the peak and in the later rows alike; noise is not.
tapers as (
    select
        s.session_id, max(coalesce(s.next_s, s.t_s)) as taper_s, arg_max(coalesce(s.next_s, s.t_s) - s.t_s, s.t_s) as taper_width_s,
        max(coalesce(s.next_s, s.t_s)) - max(case when s.mean_kw >= 0.8 * t.mean_kw + greatest(t.noise_kw, 0.005 * t.mean_kw) then coalesce(s.next_s, s.t_s) end) as taper_noise_s
    from smooth s join peaks t using (session_id)
    where s.mean_kw >= 0.8 * t.mean_kw
    group by s.session_id
)

select
    t.session_id, t.mean_kw as peak_kw, t.t_s as peak_s, t.plug_s, t.u_kw as peak_u_kw,
    e.end_s - e.end_width_s / 2 as end_s, e.end_width_s / sqrt(12) as end_u_s,
    a.taper_s - a.taper_width_s / 2 as taper_s, sqrt(a.taper_width_s ** 2 / 12 + coalesce(a.taper_noise_s, 0) ** 2) as taper_u_s,
    t.worse, t.noted, t.basis_name
from peaks t
left join ends e using (session_id)
left join tapers a using (session_id)
order by t.session_id
