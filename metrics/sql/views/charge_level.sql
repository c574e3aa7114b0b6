-- view:   charge_level
-- title:  The displayed state of charge, by the source that shows it most often, else what the car told the charger
-- reads:  reading(session_id, source_id, line, t_s, soc_pct, soc_charger_pct), instrument(source_id, channel, resolution),
--         offer(session_id, source_id, quantity, noted, offset_u_s, rows_held, enough)
--
-- One source a session, one that shows enough of the charge (view offer); notes
-- only where there is no log. Where no log of the car has the display, it is what the
-- car told the charger, which may be a percent off the display either way (ours): its
-- step is two wider. told says which, NULL for the display by a log. held_pct is what this row and the two after it
-- show at least: a single row that leaps up and comes back is the logger's
-- mistake, not charge (ours). before_s and next_s are the times of the rows beside it.

with

chosen as (
    select *
    from offer
    where quantity in ('soc', 'soc_told')
    qualify row_number() over (partition by session_id order by noted, not enough, quantity, rows_held desc, source_id) = 1
),

shown as (
    select
        r.session_id, r.source_id, r.line, r.t_s, case when h.quantity = 'soc' then r.soc_pct else r.soc_charger_pct end as soc_pct,
        h.noted, h.offset_u_s,
        case when h.noted then 'from notes' when h.quantity = 'soc_told' then 'as the car told the charger' end as told,
        coalesce(i.resolution, 1) + case when h.quantity = 'soc_told' then 2 else 0 end as step_pct
    from reading r
    join chosen h on r.session_id = h.session_id and r.source_id = h.source_id
    left join instrument i on r.source_id = i.source_id and i.channel = case when h.quantity = 'soc' then 'soc_pct' else 'soc_charger_pct' end
    where r.t_s >= -600
)

select
    session_id, source_id, line, t_s, soc_pct,
    min(soc_pct) over (partition by session_id order by t_s, line rows between current row and 2 following) as held_pct,
    lag(t_s) over w as before_s,
    lead(t_s) over w as next_s,
    lead(soc_pct) over w as next_pct,
    noted, offset_u_s, told, step_pct
from shown
where soc_pct is not null
window w as (partition by session_id order by t_s, line)
