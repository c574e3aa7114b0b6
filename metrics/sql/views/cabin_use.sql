-- view:   cabin_use
-- title:  What warming the cabin took
-- reads:  warmup(session_id, status, last_s, to_s), used(session_id, quantity, from_s, to_s, kwh, own_u_kwh, u_kwh, to_kw, worse, basis_name),
--         basis(session_id, quantity, basis, u_rel, step_kw, hold_s, noted, basis_name), cabin_heater(session_id, t_s, line, kw),
--         inlet(session_id, t_s, kw), power(session_id, t_s, line, kw), heater(session_id, t_s, kw, hold_s), accessory(session_id, t_s, kw, hold_s)
--
-- A row for each session with a view warmup, over its span (view outing).
-- Energy, by the first of these that is known, never mixed:
-- 1  the cabin heater's power as logged;
-- 2  what the pack gave (voltage times current, or its power), less pack heater and
--    accessories; a fallback. A pack heater that is not logged counts as off;
--    accessories that are not logged as 0.3 kW give or take 0.2 kW (common practice,
--    no source). Not where a charger delivered, 0.1 kW or more: what the pack gave is then not all;
-- 3  the same from what the display lost, times the usable energy.
-- peak_kw is the highest mean over 10 s, or row of a rarer log, of 1 or else of 2; the
-- display tells none.

with

plugged as materialized (
    select distinct i.session_id
    from inlet i join basis b on i.session_id = b.session_id and b.quantity = 'inlet' and b.basis < 4 join warmup w on i.session_id = w.session_id
    where i.t_s >= 0 and i.kw >= 0.1
),

given as (
    select u.* from used u where u.quantity = 'pack' and u.session_id not in (select session_id from plugged)
),

drawn as (
    select
        w.session_id,
        c.session_id is not null as direct,
        coalesce(c.kwh, p.kwh - coalesce(h.kwh, 0) - coalesce(a.kwh, 0.3 * (p.to_s - p.from_s) / 3600)) as kwh,
        coalesce(c.own_u_kwh, sqrt(p.own_u_kwh ** 2 + coalesce(h.own_u_kwh, 0) ** 2 + coalesce(a.own_u_kwh, 0.2 * (p.to_s - p.from_s) / 3600) ** 2)) as own_u_kwh,
        case when c.session_id is not null then c.u_kwh ** 2 - c.own_u_kwh ** 2 else p.u_kwh ** 2 - p.own_u_kwh ** 2 end as end_kwh2,
        coalesce(c.to_kw, p.to_kw) as to_kw,
        case when c.session_id is not null then c.worse else true end as worse,
        case when c.session_id is not null then c.basis_name else p.basis_name || ', less other loads' end as basis_name
    from warmup w
    left join used c on w.session_id = c.session_id and c.quantity = 'cabin'
    left join given p on w.session_id = p.session_id
    left join used h on w.session_id = h.session_id and h.quantity = 'heater'
    left join used a on w.session_id = a.session_id and a.quantity = 'accessory'
),

loads as (
    select c.session_id, c.t_s, c.line, c.kw, 1 as way
    from cabin_heater c join warmup w on c.session_id = w.session_id
    union all
    select
        p.session_id, p.t_s, p.line,
        -p.kw - case when p.t_s - h.t_s <= h.hold_s then h.kw else 0 end - case when p.t_s - a.t_s <= a.hold_s then a.kw else 0.3 end, 2
    from (
        select k.* from power k join warmup w on k.session_id = w.session_id join basis b on k.session_id = b.session_id and b.quantity = 'pack' and b.basis <= 2
    ) p
    asof left join (select k.* from heater k join warmup w on k.session_id = w.session_id) h on p.session_id = h.session_id and p.t_s >= h.t_s
    asof left join (select k.* from accessory k join warmup w on k.session_id = w.session_id) a on p.session_id = a.session_id and p.t_s >= a.t_s
    where p.session_id not in (select session_id from plugged)
),

smoothed as (
    select
        l.session_id, l.way, l.t_s, l.line,
        avg(l.kw) over (partition by l.session_id, l.way order by l.t_s range between 9.5 preceding and current row) as mean_kw
    from loads l join warmup w using (session_id)
    where l.t_s >= 0 and l.t_s <= coalesce(w.to_s, w.last_s)
),

tops as (
    select * from smoothed qualify row_number() over (partition by session_id order by way, mean_kw desc, t_s, line) = 1
)

select
    w.session_id, d.kwh, d.own_u_kwh, sqrt(d.own_u_kwh ** 2 + d.end_kwh2) as u_kwh, d.to_kw, d.worse, d.basis_name,
    t.mean_kw as peak_kw,
    sqrt((b.u_rel * t.mean_kw) ** 2 + b.step_kw ** 2 / 12 + case when t.way = 2 then 0.2 else 0 end ** 2) as peak_u_kw,
    case when t.t_s is not null then greatest(t.t_s - 9.5, 0) end as peak_from_s,
    t.t_s as peak_to_s,
    t.way = 2 or b.noted as peak_worse,
    case when t.way = 2 then b.basis_name || ', less other loads' else b.basis_name end as peak_basis_name,
    case
        when d.kwh is null and w.session_id in (select session_id from plugged) then 'the car was plugged in, and the cabin''s heater was not logged'
        when d.kwh is null then 'neither the cabin''s heater nor what the pack gave is known'
    end as reason
from warmup w
join drawn d using (session_id)
left join tops t using (session_id)
left join basis b on t.session_id = b.session_id and b.quantity = case t.way when 1 then 'cabin' else 'pack' end
order by w.session_id
