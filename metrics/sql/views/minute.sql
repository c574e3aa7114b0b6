-- view:   minute
-- title:  The minute-by-minute log
-- reads:  power(session_id, t_s, kw), inlet(session_id, t_s, kw), heater(session_id, t_s, kw), air(session_id, source_id, t_s, c, preference),
--         charge_level(session_id, t_s, soc_pct), piece(session_id, quantity, t0, t1, kw0, kw1, bridged),
--         reading(session_id, source_id, t_s, pack_temp_min_c, pack_temp_max_c, cabin_temp_c)
--
-- Minute n goes from 60 n s to 60 (n+1) s after the zero of the session clock,
-- from five minutes before it on. Powers are means of the rows in the minute,
-- pack_kwh what the pack has taken by its end, the others the last value in it. For show only: no figure reads it.

with

p as (
    select session_id, floor(t_s / 60)::integer as minute, avg(kw) as kw from power where t_s >= -300 group by all
),

c as (
    select session_id, floor(t_s / 60)::integer as minute, avg(kw) as kw from inlet where t_s >= -300 group by all
),

h as (
    select session_id, floor(t_s / 60)::integer as minute, avg(kw) as kw from heater where t_s >= -300 group by all
),

e as (
    select session_id, minute, sum(kwh) over (partition by session_id order by minute) as kwh
    from (
        select session_id, floor(t0 / 60)::integer as minute, sum(case when bridged then (kw0 + kw1) / 2 * (t1 - t0) / 3600 end) as kwh
        from piece
        where quantity = 'pack' and t0 >= -300
        group by all
    )
),

s as (
    select session_id, floor(t_s / 60)::integer as minute, arg_max(soc_pct, t_s) as soc_pct from charge_level where t_s >= -300 group by all
),

a as (
    select session_id, floor(t_s / 60)::integer as minute, arg_max(c, (t_s - 1e6 * preference, source_id)) as c from air where t_s >= -300 group by all
),

-- Of two sources with a row at one moment the one whose name comes later; within one there is no tie.
told as (
    select
        session_id, source_id, floor(t_s / 60)::integer as minute,
        arg_max(pack_temp_min_c, t_s) filter (where pack_temp_min_c is not null) as min_c, max(t_s) filter (where pack_temp_min_c is not null) as min_s,
        arg_max(pack_temp_max_c, t_s) filter (where pack_temp_max_c is not null) as max_c, max(t_s) filter (where pack_temp_max_c is not null) as max_s,
        arg_max(cabin_temp_c, t_s) filter (where cabin_temp_c is not null) as cabin_c, max(t_s) filter (where cabin_temp_c is not null) as cabin_s
    from reading
    where t_s >= -300
    group by all
),

r as (
    select
        session_id, minute,
        arg_max(min_c, (min_s, source_id)) as pack_temp_min_c, arg_max(max_c, (max_s, source_id)) as pack_temp_max_c, arg_max(cabin_c, (cabin_s, source_id)) as cabin_temp_c
    from told
    group by all
)

select
    r.session_id, r.minute,
    p.kw as pack_kw, c.kw as charger_kw, h.kw as heater_kw, s.soc_pct, r.pack_temp_min_c, r.pack_temp_max_c, a.c as ambient_c, r.cabin_temp_c, e.kwh as pack_kwh
from r
left join p using (session_id, minute)
left join c using (session_id, minute)
left join h using (session_id, minute)
left join e using (session_id, minute)
left join s using (session_id, minute)
left join a using (session_id, minute)
order by r.session_id, r.minute
