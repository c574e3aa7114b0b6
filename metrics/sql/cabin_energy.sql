-- figure: cabin_energy
-- title:  Energy to warm the cabin
-- unit:   kWh
-- better: lower
-- procedure: cabin-warmup
-- reads:  session(session_id, procedure), warmup(session_id, status, target_s, target_c, last_s),
--         cabin_use(session_id, kwh, u_kwh, worse, basis_name, reason)
-- method: definition is ours
--
-- Electricity for the cabin's heat from the start until the cabin is at the target
-- (figure cabin_time_to_target): the cabin heater's, else what the pack gave less other
-- loads, else what the display lost times the usable energy (view cabin_use). Where the
-- log ends before the target, it takes more than this: beyond. There is no value where
-- none of them is known or the cabin's temperature was not logged.

select
    s.session_id,
    case when w.status in ('reached', 'beyond') then c.kwh end as value,
    case when w.status = 'reached' then c.u_kwh end as uncertainty,
    case when w.status in ('reached', 'beyond') and c.kwh is not null then 0 end as from_s,
    case when w.status in ('reached', 'beyond') and c.kwh is not null then coalesce(w.target_s, w.last_s) end as to_s,
    case
        when w.session_id is null or w.status = 'warm' or c.kwh is null then 'none'
        when w.status = 'beyond' then 'beyond'
        when c.worse then 'fallback'
        else 'measured'
    end as status,
    case
        when w.session_id is null then 'the cabin''s temperature was not logged'
        when w.status = 'warm' then format('the log begins with the cabin at {:.0f} °C or above', w.target_c)
        when c.kwh is null then c.reason
        when w.status = 'beyond' then format('the log ends before {:.0f} °C; {}', w.target_c, c.basis_name)
        else c.basis_name
    end as note
from session s
left join warmup w using (session_id)
left join cabin_use c using (session_id)
where s.procedure = 'cabin-warmup'
order by s.session_id
