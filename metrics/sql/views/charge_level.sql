-- view:   charge_level
-- title:  The displayed state of charge, by the source that shows it most often, else what the car told the charger
-- reads:  reading(session_id, source_id, line, t_s, t_us, soc_pct, soc_charger_pct), instrument(source_id, channel, resolution),
--         offer(session_id, source_id, quantity, noted, offset_u_s, rows_held, enough)
--
-- One source a session, one that shows enough of the charge (view offer); notes
-- only where there is no log. Where no log of the car has the display, it is what the
-- car told the charger, which may be a percent off the display either way (ours): its
-- step is two wider. told says which, NULL for the display by a log. held_pct is what this row and the two after it
-- show at least: a single row that leaps up and comes back is the logger's
-- mistake, not charge (ours).
-- A display stands still for minutes while its log goes on: of rows that show what
-- the row before and the three after them show, only the first of each minute is here,
-- and those beside a gap of more than 60 s. before_s, next_s and next_pct are of the rows
-- beside each in the log.

with

chosen as (
    select *
    from offer
    where quantity in ('soc', 'soc_told')
    qualify row_number() over (partition by session_id order by noted, not enough, quantity, rows_held desc, source_id) = 1
),

shown as (
    select session_id, source_id, line, t_s, t_us, false as told, soc_pct from reading where soc_pct is not null and t_s >= -600
    union all
    select session_id, source_id, line, t_s, t_us, true, soc_charger_pct from reading where soc_charger_pct is not null and t_s >= -600
),

beside as (
    select
        *,
        lag(source_id) over () = source_id and lag(told) over () = told as follows,
        lag(t_us) over () as before_us,
        lag(soc_pct) over () as before_pct,
        lead(source_id) over () = source_id and lead(told) over () = told as leads,
        lead(t_us) over () as next_us,
        lead(soc_pct) over () as next_pct,
        lead(source_id, 2) over () = source_id and lead(told, 2) over () = told as leads2,
        lead(soc_pct, 2) over () as next2_pct,
        lead(source_id, 3) over () = source_id and lead(told, 3) over () = told as leads3,
        lead(soc_pct, 3) over () as next3_pct
    from shown
),

moved as (
    select *
    from beside
    where not coalesce(
        soc_pct = before_pct and soc_pct = next_pct and soc_pct = next2_pct and soc_pct = next3_pct
        and t_us - before_us <= 60000000 and next_us - t_us <= 60000000 and (t_us + 600000000) // 60000000 = (before_us + 600000000) // 60000000
        and follows and leads3, false)
)

select
    r.session_id, r.source_id, r.line, r.t_s, r.soc_pct,
    least(r.soc_pct, case when r.leads then r.next_pct end, case when r.leads2 then r.next2_pct end) as held_pct,
    case when r.follows then r.before_us / 1e6 end as before_s,
    case when r.leads then r.next_us / 1e6 end as next_s,
    case when r.leads then r.next_pct end as next_pct,
    h.noted, h.offset_u_s,
    case when h.noted then 'from notes' when r.told then 'as the car told the charger' end as told,
    coalesce(i.resolution, 1) + case when r.told then 2 else 0 end as step_pct
from moved r
join chosen h on r.source_id = h.source_id and r.told = (h.quantity = 'soc_told')
left join instrument i on r.source_id = i.source_id and i.channel = case when r.told then 'soc_charger_pct' else 'soc_pct' end
