-- view:   attempt
-- title:  Plugging in and pulling out before the charge
-- reads:  event(session_id, source_id, line, kind, t_s, width_s), onset(session_id, t_s)
--
-- Plug-ins, latch failures and unplugs that notes or a charger told of, up to the onset. An
-- unplug that ends a charge is none of them: where the log's clock leapt, the onset may
-- lie after it. It is one that comes after somebody saw the charge, and after which nobody
-- plugged in again.

with

seen as (
    select
        session_id, min(t_s) filter (where kind = 'onset-seen' and t_s >= 0) as charge_s, max(t_s) filter (where kind = 'plug-in') as plug_s
    from event
    where kind in ('onset-seen', 'plug-in')
    group by session_id
)

select e.session_id, e.source_id, e.line, e.kind, e.t_s, e.width_s
from event e
left join onset o on e.session_id = o.session_id
left join seen s on e.session_id = s.session_id
where e.kind in ('plug-in', 'latch-failure', 'unplug') and e.t_s < coalesce(o.t_s, 'infinity'::double)
    and not (e.kind = 'unplug' and coalesce(s.charge_s <= e.t_s, false) and coalesce(s.plug_s < e.t_s, true))
