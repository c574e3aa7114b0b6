-- figure: soak_ambient_mean
-- title:  Mean air over the soak
-- unit:   °C
-- better: neither
-- procedure: cold-charge, cabin-warmup, cold-drive, standby
-- reads:  session(session_id, procedure), soak(session_id, from_s),
--         soak_air(session_id, instrument, preference, mean_c, u_mean_c, covered, a, b)
-- method: definition is ours
--
-- Mean over time of the air from the start of the soak to the plug-in, by the most
-- preferred instrument that covers at least three quarters of it (view soak_air,
-- with the uncertainty). Precedent for a simple average over the soak: 40 CFR
-- 86.230-94; here it is over time, since rows may be uneven. There is no value
-- where no instrument covers three quarters (ours).

select
    s.session_id,
    c.mean_c as value,
    c.u_mean_c as uncertainty,
    c.a as from_s,
    c.b as to_s,
    case when c.mean_c is null then 'none' when c.preference = 3 then 'fallback' else 'measured' end as status,
    case
        when k.from_s is null then 'nothing says when the soak began'
        when c.mean_c is null then 'no thermometer covers three quarters of the soak'
        else format('{}, {:.0f} % of the soak', c.instrument, 100 * c.covered)
    end as note
from session s
left join soak k using (session_id)
left join soak_air c using (session_id)
where s.procedure in ('cold-charge', 'cabin-warmup', 'cold-drive', 'standby')
order by s.session_id
