-- view:   soak_line
-- title:  A line through one car's sessions at different soaks
-- reads:  session(session_id, vehicle_id, procedure), result(session_id, figure, value, uncertainty, status)
--
-- For each car and figure with at least three cold-charge sessions whose coldest pack
-- temperature at the plug-in (else the air's) is known and spans 5 K or more: a straight
-- line of the figure over that temperature by least squares, its slope and the slope's
-- standard uncertainty (residual standard deviation over the root of the sum of squares,
-- any text on regression; NIST StRD's Norris is how the program's own is checked). The
-- residuals count as at least what the figures' own uncertainties are.

with

soaks as (
    select
        s.session_id, s.vehicle_id,
        coalesce(max(case when r.figure = 'pack_temp_at_plug_in' then r.value end), max(case when r.figure = 'ambient_at_plug_in' then r.value end)) as c
    from session s join result r using (session_id)
    where s.procedure = 'cold-charge' and r.figure in ('pack_temp_at_plug_in', 'ambient_at_plug_in') and r.status in ('measured', 'fallback')
    group by s.session_id, s.vehicle_id
),

points as (
    select k.vehicle_id, k.session_id, k.c, r.figure, r.value, r.uncertainty
    from soaks k join result r using (session_id)
    where r.status in ('measured', 'fallback')
        and r.figure in ('delay_to_onset', 'energy_before_onset', 'heat_before_onset', 'time_10_80_plug_in', 'time_window_plug_in')
)

select
    p.vehicle_id, p.figure, count(*) as n, min(p.c) as coldest_c, max(p.c) as warmest_c,
    regr_slope(p.value, p.c) as slope,
    sqrt(greatest((regr_syy(p.value, p.c) - regr_sxy(p.value, p.c) ** 2 / regr_sxx(p.value, p.c)) / (count(*) - 2), avg(p.uncertainty ** 2)) / regr_sxx(p.value, p.c)) as slope_u,
    regr_r2(p.value, p.c) as r2
from points p
group by p.vehicle_id, p.figure
having count(*) >= 3 and max(p.c) - min(p.c) >= 5
