-- figure: soak_soc_loss
-- title:  Displayed charge lost per day in the soak
-- unit:   %/d
-- better: lower
-- procedure: cold-charge, cabin-warmup, cold-drive
-- reads:  session(session_id, procedure), soak(session_id, from_s, to_s), source(source_id, kind),
--         reading(session_id, source_id, line, t_s, soc_pct), instrument(source_id, channel, resolution),
--         at_plug_in(session_id, plug_s, soc_pct, soc_u_pct, soc_told)
-- method: definition is ours
--
-- The displayed charge when the car was left outside, the row nearest to it within an
-- hour, less that at the plug-in or the start, over the time between: what the driver
-- finds missing, with what the cold hid of it. Figure standby_power tells what really
-- went. Uncertainty: the last digit at both ends. There is no value where nothing says
-- when the soak began, the display is not known at both ends, or less than 6 h lie
-- between them (ours, as for standby_soc_loss).

with

starts as (
    select r.session_id, r.t_s, r.soc_pct, s.kind = 'notes' as noted, coalesce(i.resolution, 1) as step_pct
    from reading r
    join soak k on r.session_id = k.session_id and r.t_s between k.from_s - 3600 and k.from_s + 3600 and r.t_s < k.to_s
    join source s on r.source_id = s.source_id
    left join instrument i on r.source_id = i.source_id and i.channel = 'soc_pct'
    where r.soc_pct is not null
    qualify row_number() over (partition by r.session_id order by s.kind = 'notes', abs(r.t_s - k.from_s), r.line, r.source_id) = 1
),

judged as (
    select
        s.session_id, b.t_s, a.plug_s, b.soc_pct - a.soc_pct as loss_pct, b.noted or a.soc_told is not null as noted,
        sqrt(b.step_pct ** 2 / 12 + a.soc_u_pct ** 2) as u_pct,
        (a.plug_s - b.t_s) / 86400 as days,
        case
            when k.from_s is null then 'nothing says when the soak began'
            when b.t_s is null then 'no displayed charge within an hour of the start of the soak'
            when a.soc_pct is null then 'no displayed charge near the plug-in'
            when a.plug_s - b.t_s < 6 * 3600 then format('only {:.1f} h lie between, a day''s loss needs 6', floor((a.plug_s - b.t_s) / 360) / 10)
        end as reason
    from session s
    left join soak k using (session_id)
    left join starts b using (session_id)
    left join at_plug_in a using (session_id)
    where s.procedure in ('cold-charge', 'cabin-warmup', 'cold-drive')
)

select
    session_id,
    case when reason is null then loss_pct / days end as value,
    case when reason is null then u_pct / days end as uncertainty,
    case when reason is null then t_s end as from_s,
    case when reason is null then plug_s end as to_s,
    case when reason is not null then 'none' when noted then 'fallback' else 'measured' end as status,
    case when reason is not null then reason when noted then 'from notes' end as note
from judged
order by session_id
