-- figure: out_of_step
-- title:  Energy that charger and pack tell of at different times
-- unit:   kWh
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), basis(session_id, quantity, basis, noted, u_rel), minute_power(session_id, minute, pack_kw, inlet_kw)
-- method: definition is ours
--
-- The pack cannot take what the charger does not give at that moment, and what the
-- charger gives beyond what heaters can take goes into the pack. By whole minutes after
-- the plug-in, from the means of the rows in them: what the pack took beyond the most that
-- the charger gave in that minute or beside it; and 0.85 of the least that the charger
-- gave in these, less 12 kW, beyond the most that the pack took (0.85 and 12 kW, more
-- than is lost and than heaters take, are ours). A clock that is wrong by two minutes
-- or more shows, and so does an instrument that is far off; both are in step within
-- a minute. What comes after the cable was pulled (view
-- unplugged) does not count, nor do minutes that one of the two does not know with those beside it.
-- There is no value where charger and pack were not each logged as power, or as voltage
-- and current. Uncertainty: both instruments, over what counts.

with

known as (
    select p.session_id, sqrt(p.u_rel ** 2 + i.u_rel ** 2) as u_rel
    from basis p join basis i on p.session_id = i.session_id and p.quantity = 'pack' and i.quantity = 'inlet'
    where p.basis <= 2 and i.basis <= 2 and not p.noted and not i.noted
),

-- Minutes in which both were logged.
pairs as (
    select session_id, minute, pack_kw, inlet_kw from minute_power where pack_kw is not null and inlet_kw is not null
),

reach as (
    select
        session_id, minute, pack_kw, inlet_kw,
        lag(minute) over (partition by session_id order by minute) as before_minute,
        lead(minute) over (partition by session_id order by minute) as next_minute,
        max(pack_kw) over (partition by session_id order by minute rows between 1 preceding and 1 following) as most_pack_kw,
        min(inlet_kw) over (partition by session_id order by minute rows between 1 preceding and 1 following) as least_inlet_kw,
        max(inlet_kw) over (partition by session_id order by minute rows between 1 preceding and 1 following) as most_inlet_kw
    from pairs
),

steps as (
    select
        session_id, minute, greatest(pack_kw - most_inlet_kw, 0) as taken_kw, greatest(0.85 * least_inlet_kw - 12 - most_pack_kw, 0) as given_kw,
        pack_kw, inlet_kw
    from reach
    where next_minute - before_minute = 2
),

sums as (
    select
        session_id,
        fsum(taken_kw + given_kw) / 60 as kwh,
        fsum(case when taken_kw > 0 then pack_kw when given_kw > 0 then inlet_kw end) / 60 as counted_kwh,
        min(case when taken_kw + given_kw > 0 then minute end) * 60 as from_s,
        (max(case when taken_kw + given_kw > 0 then minute end) + 1) * 60 as to_s
    from steps
    group by session_id
)

select
    s.session_id,
    case when b.session_id is not null then round(x.kwh, 9) end as value,
    case when b.session_id is not null then b.u_rel * coalesce(x.counted_kwh, 0) end as uncertainty,
    case when b.session_id is not null then x.from_s end as from_s,
    case when b.session_id is not null then x.to_s end as to_s,
    case when b.session_id is not null and x.kwh is not null then 'measured' else 'none' end as status,
    case
        when b.session_id is null then 'charger and pack were not each logged as power'
        when x.kwh is null then 'charger and pack were not logged at the same time'
    end as note
from session s
left join known b on s.session_id = b.session_id
left join sums x on s.session_id = x.session_id
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
