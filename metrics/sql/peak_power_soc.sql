-- figure: peak_power_soc
-- title:  Displayed charge at the peak
-- unit:   %
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), onset(session_id, t_s), peak(session_id, peak_kw, peak_s), smooth(session_id, t_s, mean_kw),
--         charge_level(session_id, t_s, held_pct, step_pct, told)
-- method: definition is ours
--
-- What the display showed while the power into the pack was within 3 % of its peak
-- (views peak and smooth; 3 % is ours, since noise makes one row of a flat peak the
-- highest): the middle of its lowest and highest charge then. Uncertainty: their
-- difference and a step of the display, rectangular (JCGM 100, 4.3.7). There is no value
-- without an onset, or where the display was not logged near.

with

tops as (
    select m.session_id, m.t_s, o.t_s as onset_s
    from smooth m join peak p using (session_id) join onset o using (session_id)
    where (m.mean_kw >= 0.97 * p.peak_kw and m.mean_kw <= p.peak_kw) and m.t_s >= o.t_s
),

shown as (
    select t.session_id, min(t.onset_s) as onset_s, max(t.t_s) as to_s, min(c.held_pct) as low_pct, max(c.held_pct) as high_pct,
        max(c.step_pct) as step_pct, any_value(c.told) as told
    from tops t asof join charge_level c on t.session_id = c.session_id and t.t_s >= c.t_s
    where t.t_s - c.t_s <= 600
    group by t.session_id
)

select
    s.session_id,
    (h.low_pct + h.high_pct) / 2 as value,
    sqrt((h.high_pct - h.low_pct) ** 2 / 12 + h.step_pct ** 2 / 12) as uncertainty,
    h.onset_s as from_s,
    h.to_s,
    case when h.low_pct is null then 'none' when h.told is not null then 'fallback' else 'measured' end as status,
    case
        when o.t_s is null then 'no onset was found'
        when h.low_pct is null then 'no displayed charge near the peak'
        when h.told is not null then h.told
        else format('from {:.0f} to {:.0f} %', h.low_pct, h.high_pct)
    end as note
from session s
left join onset o using (session_id)
left join shown h using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
