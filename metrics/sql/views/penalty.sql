-- view:   penalty
-- title:  What the cold costs, figure by figure
-- reads:  session(session_id, vehicle_id, procedure), result(session_id, figure, value, uncertainty, status)
--
-- A row for each session in the cold and each figure that it and the same car's
-- control both have: cold-charge beside warm-charge, cold-drive beside warm-drive.
-- Of several control sessions the mean counts, with the root of the sum of their
-- squared uncertainties over their number (JCGM 100, 5.1.2).

with

controls as (
    select
        s.vehicle_id, case s.procedure when 'warm-charge' then 'cold-charge' else 'cold-drive' end as procedure, r.figure,
        avg(r.value) as control, sqrt(sum(r.uncertainty ** 2)) / count(*) as control_u, string_agg(s.session_id, ', ' order by s.session_id) as controls
    from session s join result r using (session_id)
    where s.procedure in ('warm-charge', 'warm-drive') and r.status in ('measured', 'fallback')
    group by s.vehicle_id, s.procedure, r.figure
)

select s.session_id, r.figure, r.value as cold, r.uncertainty as cold_u, c.control, c.control_u, c.controls, r.status
from session s
join result r using (session_id)
join controls c on s.vehicle_id = c.vehicle_id and s.procedure = c.procedure and r.figure = c.figure
where r.status in ('measured', 'fallback')
order by s.session_id, r.figure
