-- figure: energy_60min
-- title:  Energy into the pack in 60 min
-- unit:   kWh
-- better: higher
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure),
--         energy(session_id, quantity, span, from_s, to_s, last_s, kwh, u_kwh, unbridged_s, worse, basis_name)
-- method: definition is ours
--
-- Net energy into the pack in the first 60 minutes after the plug-in that led to
-- the charge, the delay included. Views power and energy. There is no value where
-- power into the pack is not known, and none where its log ends before the 60
-- minutes do: a charge that was over sooner has none.

with

held as (
    select * from energy where quantity = 'pack' and span = '60min'
)

select
    s.session_id,
    case when e.last_s >= e.to_s then e.kwh end as value,
    case when e.last_s >= e.to_s then e.u_kwh end as uncertainty,
    e.from_s,
    e.to_s,
    case when e.kwh is null or e.last_s < e.to_s then 'none' when e.worse then 'fallback' else 'measured' end as status,
    case
        when e.kwh is null then 'power into the pack is not known'
        when e.last_s < e.to_s then format('the log ends {:.0f} s after the plug-in', e.last_s - e.from_s)
        when e.unbridged_s > 60 then format('{}; {:.0f} s without rows are left out', e.basis_name, e.unbridged_s)
        else e.basis_name
    end as note
from session s
left join held e using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
