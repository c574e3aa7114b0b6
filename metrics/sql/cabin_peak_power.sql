-- figure: cabin_peak_power
-- title:  Peak power to warm the cabin
-- unit:   kW
-- better: neither
-- procedure: cabin-warmup
-- reads:  session(session_id, procedure), warmup(session_id),
--         cabin_use(session_id, peak_kw, peak_u_kw, peak_from_s, peak_to_s, peak_worse, peak_basis_name)
-- method: definition is ours
--
-- The highest mean over 10 s of the cabin heater's power until the target, or the end
-- of the log if it comes before; of a rarer log, the highest row. Where the heater was
-- not logged, of what the pack gave less other loads (view cabin_use). Uncertainty: the
-- instrument, the last digit, and of loads that are not known 0.2 kW. There is no value
-- where neither is known: a displayed charge tells no peak.

select
    s.session_id,
    c.peak_kw as value,
    c.peak_u_kw as uncertainty,
    c.peak_from_s as from_s,
    c.peak_to_s as to_s,
    case when c.peak_kw is null then 'none' when c.peak_worse then 'fallback' else 'measured' end as status,
    case
        when w.session_id is null then 'the cabin''s temperature was not logged'
        when c.peak_kw is null then 'the cabin''s heater was not logged, nor what the pack gave'
        else c.peak_basis_name
    end as note
from session s
left join warmup w using (session_id)
left join cabin_use c using (session_id)
where s.procedure = 'cabin-warmup'
order by s.session_id
