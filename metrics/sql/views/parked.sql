-- view:   parked
-- title:  What a car that stands loses
-- reads:  session(session_id, procedure), outing(session_id, from_s, to_s), shown_loss(session_id, from_s, to_s, loss_pct, u_pct, kwh, u_kwh, noted),
--         used(session_id, quantity, from_s, to_s, kwh, u_kwh, worse, basis_name), event(session_id, kind, t_s),
--         inlet(session_id, t_s, kw), basis(session_id, quantity, basis)
--
-- A row for each standby session. Less than 6 h says nothing of a day (ours). A car
-- that was plugged in or driven in between did not just stand. Power comes from the
-- pack's, as logged, over the session; else from the display (view shown_loss). Each
-- pair of columns is NULL with the reason beside it.

with

broken as (
    select e.session_id, arg_min(e.kind, (e.t_s, e.kind)) as kind
    from (
        select session_id, kind, t_s from event where kind in ('plug-in', 'drive-start')
        union all
        select i.session_id, 'plug-in', i.t_s
        from inlet i join basis b on i.session_id = b.session_id and b.quantity = 'inlet' and b.basis < 4
        where i.kw >= 0.1
    ) e join outing o using (session_id)
    where e.t_s > o.from_s and e.t_s < o.to_s
    group by e.session_id
),

spans as (
    select
        s.session_id, o.from_s, o.to_s,
        case
            when o.session_id is null then 'neither charge nor power was logged twice'
            when b.kind = 'plug-in' then 'the car was plugged in'
            when b.kind = 'drive-start' then 'the car was driven'
            when o.to_s - o.from_s < 6 * 3600 then format('the log spans only {:.1f} h, a day''s loss needs 6', floor((o.to_s - o.from_s) / 360) / 10)
        end as reason
    from session s
    left join outing o using (session_id)
    left join broken b using (session_id)
    where s.procedure = 'standby'
)

select
    p.session_id, p.from_s, p.to_s,
    case when p.reason is null then l.loss_pct / (l.to_s - l.from_s) * 86400 end as loss_pct_d,
    case when p.reason is null then l.u_pct / (l.to_s - l.from_s) * 86400 end as loss_u_pct_d,
    coalesce(l.noted, false) as loss_noted,
    case when p.reason is not null then p.reason when l.session_id is null then 'the displayed charge was not logged' end as loss_reason,
    case when p.reason is null then u.kwh / (u.to_s - u.from_s) * 3600 end as kw,
    case when p.reason is null then u.u_kwh / (u.to_s - u.from_s) * 3600 end as u_kw,
    u.worse, u.basis_name,
    case
        when p.reason is not null then p.reason
        when u.session_id is null then 'the pack''s power is not known, and no usable energy is stated'
    end as power_reason
from spans p
left join shown_loss l using (session_id)
left join used u on p.session_id = u.session_id and u.quantity = 'pack'
order by p.session_id
