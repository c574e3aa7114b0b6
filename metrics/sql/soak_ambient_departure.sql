-- figure: soak_ambient_departure
-- title:  Air off its mean in the soak
-- unit:   K
-- better: lower
-- procedure: cold-charge, cabin-warmup, cold-drive, standby
-- reads:  session(session_id, procedure), soak(session_id, from_s),
--         soak_air(session_id, instrument, preference, mean_c, u_mean_c, low_c, high_c, u_c, a, b)
-- method: definition is ours
--
-- How far the air went from its mean over the soak at most, up or down: how steady
-- the night was. View soak_air. Precedent for asking: 40 CFR 1066.710(b), 2.8 K about
-- the mean. Uncertainty: the instrument, since its extreme is a single reading, and the mean's
-- sampling. There is no value where the mean has none.

select
    s.session_id,
    greatest(c.high_c - c.mean_c, c.mean_c - c.low_c) as value,
    case when c.mean_c is not null then c.u_mean_c end as uncertainty,
    c.a as from_s,
    c.b as to_s,
    case when c.mean_c is null then 'none' when c.preference = 3 then 'fallback' else 'measured' end as status,
    case
        when k.from_s is null then 'nothing says when the soak began'
        when c.mean_c is null then 'no thermometer covers three quarters of the soak'
        else c.instrument
    end as note
from session s
left join soak k using (session_id)
left join soak_air c using (session_id)
where s.procedure in ('cold-charge', 'cabin-warmup', 'cold-drive', 'standby')
order by s.session_id
