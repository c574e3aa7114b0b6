-- view:   heater
-- title:  Power into the pack's heater
-- reads:  reading(session_id, source_id, line, t_s, heater_power_kw), source(source_id, kind, offset_u_s),
--         instrument(source_id, channel, resolution, u_rel)
--
-- Of several sources that log it, the one with the most rows; notes only where
-- there is no log.

with

candidates as (
    select session_id, source_id, line, t_s, heater_power_kw as kw
    from reading
    where heater_power_kw is not null and t_s >= -600
),

counted as (
    select c.session_id, c.source_id, s.kind = 'notes' as noted, s.offset_u_s, count(*) as rows_held
    from candidates c join source s using (source_id)
    group by all
    having count(*) >= 2
),

chosen as (
    select distinct on (session_id) * from counted order by session_id, noted, rows_held desc, source_id
)

select
    c.session_id, c.source_id, c.line, c.t_s, c.kw, h.noted, h.offset_u_s,
    case when h.noted then 900 else 60 end as hold_s,
    coalesce(i.u_rel, 0) as u_rel,
    0 as u_abs_kw,
    coalesce(i.resolution, 0) as step_kw,
    'heater power as logged' as basis_name
from candidates c
join chosen h on c.session_id = h.session_id and c.source_id = h.source_id
left join instrument i on c.source_id = i.source_id and i.channel = 'heater_power_kw'
order by c.session_id, c.t_s, c.line
