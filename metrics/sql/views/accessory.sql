-- view:   accessory
-- title:  Power of everything else: pumps, fans, the 12 V system
-- made:   in place
-- reads:  reading(session_id, source_id, line, t_s, t_us, accessory_power_kw), basis(session_id, source_id, quantity, hold_s, hold_us)
--
-- The rows of the source that the view basis names. before_s, before_kw: the row before;
-- bridged: not further from it than the source's hold.

select r.session_id, r.line, r.t_s, r.t_us, r.kw, h.hold_s, r.before_us / 1e6 as before_s, r.before_us, r.before_kw, r.t_us - r.before_us <= h.hold_us as bridged
from (
    select
        session_id, source_id, line, t_s, t_us, accessory_power_kw as kw,
        case when source_id = lag(source_id) over () then lag(t_us) over () end as before_us,
        case when source_id = lag(source_id) over () then lag(accessory_power_kw) over () end as before_kw
    from reading
    where accessory_power_kw is not null and t_s >= -600
) r
join basis h on r.source_id = h.source_id and h.quantity = 'accessory'
