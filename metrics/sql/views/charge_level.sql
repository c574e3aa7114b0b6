-- view:   charge_level
-- title:  The displayed state of charge, by the source that shows it most often
-- reads:  reading(session_id, source_id, line, t_s, soc_pct), source(source_id, kind, offset_u_s),
--         instrument(source_id, channel, resolution)
--
-- One source a session, notes only where there is no log.

with

candidates as (
    select session_id, source_id, line, t_s, soc_pct from reading where soc_pct is not null and t_s >= -600
),

counted as (
    select c.session_id, c.source_id, s.kind = 'notes' as noted, s.offset_u_s, count(*) as rows_held
    from candidates c join source s using (source_id)
    group by all
),

chosen as (
    select distinct on (session_id) * from counted order by session_id, noted, rows_held desc, source_id
)

select c.session_id, c.source_id, c.line, c.t_s, c.soc_pct, h.noted, h.offset_u_s, coalesce(i.resolution, 1) as step_pct
from candidates c
join chosen h on c.session_id = h.session_id and c.source_id = h.source_id
left join instrument i on c.source_id = i.source_id and i.channel = 'soc_pct'
order by c.session_id, c.t_s, c.line
