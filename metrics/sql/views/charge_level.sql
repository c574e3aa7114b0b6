-- view:   charge_level
-- title:  The displayed state of charge, by the source that shows it most often
-- reads:  reading(session_id, source_id, line, t_s, soc_pct), instrument(source_id, channel, resolution),
--         offer(session_id, source_id, quantity, noted, offset_u_s, rows_held, enough)
--
-- One source a session, one that shows enough of the charge (view offer); notes
-- only where there is no log. held_pct is what this row and the two after it
-- show at least: a single row that leaps up and comes back is the logger's
-- mistake, not charge (ours). before_s and next_s are the times of the rows beside it.

with

chosen as (
    select *
    from offer
    where quantity = 'soc'
    qualify row_number() over (partition by session_id order by noted, not enough, rows_held desc, source_id) = 1
)

select
    r.session_id, r.source_id, r.line, r.t_s, r.soc_pct,
    min(r.soc_pct) over (partition by r.session_id order by r.t_s, r.line rows between current row and 2 following) as held_pct,
    lag(r.t_s) over w as before_s,
    lead(r.t_s) over w as next_s,
    lead(r.soc_pct) over w as next_pct,
    h.noted, h.offset_u_s,
    coalesce(i.resolution, 1) as step_pct
from reading r
join chosen h on r.session_id = h.session_id and r.source_id = h.source_id
left join instrument i on r.source_id = i.source_id and i.channel = 'soc_pct'
where r.soc_pct is not null and r.t_s >= -600
window w as (partition by r.session_id order by r.t_s, r.line)
