-- view:   register_off
-- title:  Registers of energy against the power beside them
-- reads:  session(session_id, procedure), reading(session_id, source_id, t_s, line, charger_energy_kwh, pack_energy_kwh),
--         instrument(source_id, channel, resolution, u_rel), basis(session_id, quantity, basis, u_rel), plug_in(session_id, t_s), unplugged(session_id, t_s),
--         piece(session_id, quantity, t0, t1, kw0, kw1, bridged)
--
-- By how much, in %, the energy that a register counted after the plug-in, and before the
-- cable was pulled (view unplugged), is above the
-- integral of the power over the same rows: of the charger's and of the pack's. A fall of
-- the register is a reset, and what it counted before goes on. There is no value where the
-- power is itself taken from the register, or worked out; where the rows of power have gaps
-- in that time; or where the register moved by less than 1 kWh (ours). Uncertainty: both
-- instruments, and the register's last digit at both ends. status and note are as figures
-- give them.

with

registers as (
    select session_id, source_id, t_s, line, 'inlet'::quantity as quantity, 'charger_energy_kwh' as channel, charger_energy_kwh as kwh
    from reading
    where charger_energy_kwh is not null
    union all
    select session_id, source_id, t_s, line, 'pack', 'pack_energy_kwh', pack_energy_kwh
    from reading
    where pack_energy_kwh is not null
),

steps as (
    select r.*, greatest(r.kwh - lag(r.kwh) over (partition by r.session_id, r.quantity, r.source_id order by r.t_s, r.line), 0) as gain_kwh
    from registers r join plug_in p using (session_id) left join unplugged d using (session_id)
    where r.t_s >= p.t_s and coalesce(r.t_s < d.t_s, true)
),

counted as (
    select session_id, quantity, source_id, any_value(channel) as channel, min(t_s) as from_s, max(t_s) as to_s, sum(gain_kwh) as kwh, count(*) as n
    from steps
    group by session_id, quantity, source_id
    qualify row_number() over (partition by session_id, quantity order by count(*) desc, source_id) = 1
),

sums as (
    select
        c.session_id, c.quantity,
        sum((2 * p.kw0 + (p.kw1 - p.kw0) * (greatest(p.t0, c.from_s) + least(p.t1, c.to_s) - 2 * p.t0) / (p.t1 - p.t0)) / 2
            * (least(p.t1, c.to_s) - greatest(p.t0, c.from_s))) / 3600 as kwh,
        sum(least(p.t1, c.to_s) - greatest(p.t0, c.from_s)) as bridged_s
    from piece p join counted c on p.session_id = c.session_id and p.quantity = c.quantity
    where p.bridged and p.t1 > c.from_s and p.t0 < c.to_s
    group by c.session_id, c.quantity
),

both_of as (
    select
        c.*, a.kwh as integral_kwh, c.to_s - c.from_s - a.bridged_s as gap_s, k.basis, k.u_rel,
        i.u_rel as register_u_rel, coalesce(i.resolution, 0) as step_kwh
    from counted c
    left join sums a on c.session_id = a.session_id and c.quantity = a.quantity
    left join basis k on c.session_id = k.session_id and k.quantity = c.quantity::varchar
    left join instrument i on c.source_id = i.source_id and i.channel = c.channel
),

judged as (
    select
        *,
        case
            when basis is null then 'no power to compare with is known'
            when basis >= 3 then 'the power is itself taken from the register, or worked out'
            when kwh < 1 then format('the register moved by {:.2f} kWh only', kwh)
            when integral_kwh is null or gap_s > 1 then 'the rows of power have gaps in that time'
            when integral_kwh <= 0 then 'the power adds up to nothing'
        end as reason
    from both_of
)

select
    s.session_id, q.quantity,
    case when j.kwh is not null and j.reason is null then round(100 * (j.kwh / j.integral_kwh - 1), 10) end as value,
    case when j.kwh is not null and j.reason is null then 100 * j.kwh / j.integral_kwh * sqrt(coalesce(j.u_rel, 0) ** 2 + coalesce(j.register_u_rel, 0.01) ** 2 + j.step_kwh ** 2 / 6 / j.kwh ** 2) end as u,
    j.from_s,
    j.to_s,
    case when j.kwh is null or j.reason is not null then 'none' else 'measured' end as status,
    case when j.session_id is null then 'no register was logged' else j.reason end as note
from session s
cross join (values ('inlet'), ('pack')) q (quantity)
left join judged j on s.session_id = j.session_id and j.quantity::varchar = q.quantity
where s.procedure in ('cold-charge', 'warm-charge')
