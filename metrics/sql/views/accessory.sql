-- view:   accessory
-- title:  Power of everything else: pumps, fans, the 12 V system
-- reads:  reading(session_id, source_id, line, t_s, accessory_power_kw), instrument(source_id, channel, resolution, u_rel),
--         offer(session_id, source_id, quantity, noted, offset_u_s, rows_held, hold_s, enough)
--
-- Of several sources that log it, one that logs enough of the charge (view
-- offer), then the one with the most rows; notes only where there is no log.

with

chosen as (
    select *
    from offer
    where quantity = 'accessory_kw'
    qualify row_number() over (partition by session_id order by noted, not enough, rows_held desc, source_id) = 1
)

select
    r.session_id, r.source_id, r.line, r.t_s, r.accessory_power_kw as kw, h.noted, h.offset_u_s, h.hold_s,
    coalesce(i.u_rel, 0) as u_rel,
    0 as u_abs_kw,
    coalesce(i.resolution, 0) as step_kw,
    'accessory power as logged' as basis_name
from reading r
join chosen h on r.session_id = h.session_id and r.source_id = h.source_id
left join instrument i on r.source_id = i.source_id and i.channel = 'accessory_power_kw'
where r.accessory_power_kw is not null and r.t_s >= -600
order by r.session_id, r.t_s, r.line
