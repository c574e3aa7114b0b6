-- view:   outing
-- title:  The span over which a session without a charge is measured
-- reads:  session(session_id, procedure, zero_u_s), warmup(session_id, status, noted, target_s, u_s, last_s),
--         trip(session_id, from_s, from_u_s, to_s, to_u_s), charge_level(session_id, t_s), power(session_id, t_s)
--
-- A cabin: from the start to the target, or where it was not reached to the end of
-- the log (whole is false). A drive: from the start to the arrival (view trip). A car
-- that stands: from the first to the last row of the displayed charge, or where
-- there are no two of it, of power.

with

stood as (
    select s.session_id, min(r.t_s) as from_s, max(r.t_s) as to_s
    from session s
    join (select session_id, 1 as preference, t_s from charge_level union all select session_id, 2, t_s from power) r using (session_id)
    where s.procedure = 'standby'
    group by s.session_id, r.preference
    having max(r.t_s) > min(r.t_s)
    qualify row_number() over (partition by s.session_id order by r.preference) = 1
)

select w.session_id, 'cabin-warmup' as kind, 0::double as from_s, s.zero_u_s as from_u_s, coalesce(w.target_s, w.last_s) as to_s, coalesce(w.u_s, 0) as to_u_s, w.status = 'reached' as whole
from warmup w join session s using (session_id)
where w.status in ('reached', 'beyond')
union all
select session_id, 'drive', from_s, from_u_s, to_s, to_u_s, true from trip
union all
select session_id, 'standby', from_s, 0, to_s, 0, true from stood
