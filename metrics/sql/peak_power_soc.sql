-- figure: peak_power_soc
-- title:  Displayed charge at the peak
-- unit:   %
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), onset(session_id, t_s, t_us), peak(session_id, peak_kw, peak_s), smooth(session_id, t_us, mean_kw, before_us, next_us),
--         charge_level(session_id, t_s, held_pct, step_pct, told), basis(session_id, quantity, basis)
-- method: definition is ours
--
-- What the display showed while the power into the pack was within 3 % of its peak
-- (views peak and smooth; 3 % is ours, since noise makes one row of a flat peak the
-- highest; within a tenth where only the charger's power is known, in which heaters are): the
-- middle of its lowest and highest charge then. Uncertainty: their difference, what the display
-- gained to the rows of power on either side, and a step of it, each rectangular (JCGM 100, 4.3.7).
-- There is no value without an onset, or where the display was not logged near.

with

-- The display only rises while the pack takes energy: its first and its last such row
-- show the least and the most.
tops as (
    select
        m.session_id, min(m.t_us) / 1e6 as first_s, max(m.t_us) / 1e6 as last_s, any_value(o.t_s) as onset_s,
        min(coalesce(m.before_us, m.t_us)) / 1e6 as before_s, max(coalesce(m.next_us, m.t_us)) / 1e6 as after_s
    from smooth m join peak p using (session_id) join onset o using (session_id) join basis b on m.session_id = b.session_id and b.quantity = 'pack'
    where m.mean_kw >= case when b.basis >= 5 then 0.9 else 0.97 end * p.peak_kw and m.mean_kw <= p.peak_kw and m.t_us >= o.t_us
    group by m.session_id
),

shown as (
    select
        t.session_id, t.onset_s, t.last_s as to_s, least(a.held_pct, b.held_pct) as low_pct, greatest(a.held_pct, b.held_pct) as high_pct,
        greatest(a.held_pct - coalesce(c.held_pct, a.held_pct), 0) as before_pct, greatest(d.held_pct - b.held_pct, 0) as after_pct,
        b.step_pct, b.told
    from tops t
    asof join charge_level a on t.session_id = a.session_id and t.first_s >= a.t_s
    asof join charge_level b on t.session_id = b.session_id and t.last_s >= b.t_s
    asof left join charge_level c on t.session_id = c.session_id and greatest(t.before_s, t.onset_s) >= c.t_s
    asof join charge_level d on t.session_id = d.session_id and t.after_s >= d.t_s
    where t.first_s - a.t_s <= 600 and t.last_s - b.t_s <= 600
)

select
    s.session_id,
    (h.low_pct + h.high_pct) / 2 as value,
    sqrt(((h.high_pct - h.low_pct) ** 2 + h.before_pct ** 2 + h.after_pct ** 2 + h.step_pct ** 2) / 12) as uncertainty,
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
