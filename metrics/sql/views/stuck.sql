-- view:   stuck
-- title:  Channels that hold one value while others show that it must have moved
-- reads:  reading(session_id, source_id, line, t_s, t_us, soc_pct, soc_bms_pct, soc_charger_pct, pack_voltage_v, charger_voltage_v,
--         pack_temp_min_c, pack_temp_max_c, pack_temp_mean_c, pack_power_kw, pack_current_a, charger_power_kw, charger_current_a),
--         minute_power(session_id, minute, pack_kw, inlet_kw), source(source_id, session_id), session(session_id, vehicle_id), vehicle(vehicle_id, usable_kwh)
--
-- A row for each stretch of ten minutes or more, to ten seconds, of whole minutes after the
-- session's zero (the last up to its last row), in which a source shows one value, to the last digit, in a
-- channel that must have moved:
--
--   state of charge, voltage   the pack took 8 % of what the car can use (5 kWh
--                              where that is not known): a display moves in whole
--                              percents and a pack's voltage rises by volts
--   pack temperature           another of the pack's temperatures moved by 8 K
--   power and current          the power at the other end, pack or charger, moved
--                              by a quarter of its most and by 10 kW, but for the first and
--                              the last minute, as clocks differ; zero is no
--                              such value, for a pack rests while a heater takes all
--
-- The thresholds are ours: several times what displays' steps and the spread within
-- a pack make. A source may repeat an old value by itself. v is the value; lines are the
-- source's, of the stretch's first and last row; witness is what moved, in words.

with

-- One row in ten seconds is enough to look for candidates.
sampled as (
    select * exclude (before_us, before_id)
    from (select *, lag(t_us) over () as before_us, lag(source_id) over () as before_id from reading where t_s >= 0)
    where coalesce(before_id <> source_id or before_us // 10000000 <> t_us // 10000000, true)
),

minutes as materialized (
    select
        source_id, t_us // 60000000 as minute, min(t_s) as from_s, max(t_s) as to_s, min(line) as from_line, max(line) as to_line,
        min(soc_pct) as soc0, max(soc_pct) as soc1, min(soc_bms_pct) as bms0, max(soc_bms_pct) as bms1, min(soc_charger_pct) as told0, max(soc_charger_pct) as told1,
        min(pack_voltage_v) as pv0, max(pack_voltage_v) as pv1, min(charger_voltage_v) as cv0, max(charger_voltage_v) as cv1,
        min(pack_temp_min_c) as cold0, max(pack_temp_min_c) as cold1, min(pack_temp_max_c) as hot0, max(pack_temp_max_c) as hot1,
        min(pack_temp_mean_c) as mean0, max(pack_temp_mean_c) as mean1, min(pack_power_kw) as pp0, max(pack_power_kw) as pp1,
        min(pack_current_a) as pi0, max(pack_current_a) as pi1, min(charger_power_kw) as cp0, max(charger_power_kw) as cp1,
        min(charger_current_a) as ci0, max(charger_current_a) as ci1
    from sampled
    group by source_id, minute
),

channels (n, channel) as (
    values
        (1, 'soc_pct'), (2, 'soc_bms_pct'), (3, 'soc_charger_pct'), (4, 'pack_voltage_v'), (5, 'charger_voltage_v'), (6, 'pack_temp_min_c'),
        (7, 'pack_temp_max_c'), (8, 'pack_temp_mean_c'), (9, 'pack_power_kw'), (10, 'pack_current_a'), (11, 'charger_power_kw'), (12, 'charger_current_a')
),

-- Minutes of one value. Lists that are unnested would take three times as long.
held as materialized (
    select source_id, minute, from_s, to_s, from_line, to_line, 1 as n, soc0 as v from minutes where soc0 = soc1
    union all
    select source_id, minute, from_s, to_s, from_line, to_line, 2 as n, bms0 as v from minutes where bms0 = bms1
    union all
    select source_id, minute, from_s, to_s, from_line, to_line, 3 as n, told0 as v from minutes where told0 = told1
    union all
    select source_id, minute, from_s, to_s, from_line, to_line, 4 as n, pv0 as v from minutes where pv0 = pv1
    union all
    select source_id, minute, from_s, to_s, from_line, to_line, 5 as n, cv0 as v from minutes where cv0 = cv1
    union all
    select source_id, minute, from_s, to_s, from_line, to_line, 6 as n, cold0 as v from minutes where cold0 = cold1
    union all
    select source_id, minute, from_s, to_s, from_line, to_line, 7 as n, hot0 as v from minutes where hot0 = hot1
    union all
    select source_id, minute, from_s, to_s, from_line, to_line, 8 as n, mean0 as v from minutes where mean0 = mean1
    union all
    select source_id, minute, from_s, to_s, from_line, to_line, 9 as n, pp0 as v from minutes where pp0 = pp1 and pp0 <> 0
    union all
    select source_id, minute, from_s, to_s, from_line, to_line, 10 as n, pi0 as v from minutes where pi0 = pi1 and pi0 <> 0
    union all
    select source_id, minute, from_s, to_s, from_line, to_line, 11 as n, cp0 as v from minutes where cp0 = cp1 and cp0 <> 0
    union all
    select source_id, minute, from_s, to_s, from_line, to_line, 12 as n, ci0 as v from minutes where ci0 = ci1 and ci0 <> 0
),

-- Most values are there too seldom for the rest to be looked at.
often as (
    select source_id, n, v from held group by source_id, n, v having max(to_s) - min(from_s) >= 600 and count(*) >= 5
),

-- Where it is another value in between, the last step finds out.
begun as (
    select h.*, coalesce(h.minute - lag(h.minute) over (partition by h.source_id, h.n, h.v order by h.minute) > 10, true)::integer as new
    from held h semi join often o on h.source_id = o.source_id and h.n = o.n and h.v = o.v
),

numbered as (
    select *, sum(new) over (partition by source_id, n, v order by minute) as run from begun
),

runs as materialized (
    select
        o.session_id, x.source_id, c.channel, x.n, x.run, x.v,
        min(x.from_s) as from_s, max(x.to_s) as to_s, min(x.from_line) as from_line, max(x.to_line) as to_line, min(x.minute) as minute0, max(x.minute) as minute1
    from numbered x join channels c using (n) join source o using (source_id)
    group by o.session_id, x.source_id, c.channel, x.n, x.run, x.v
    having max(x.to_s) - min(x.from_s) >= 600 and count(*) >= 5
),

temperatures as (
    select o.session_id, m.minute, min(cold0) as cold0, max(cold1) as cold1, min(hot0) as hot0, max(hot1) as hot1
    from minutes m join source o using (source_id)
    where coalesce(m.cold0, m.hot0) is not null
    group by o.session_id, m.minute
),

moved as (
    select
        r.source_id, r.n, r.run, r.v,
        avg(m.pack_kw) * (least(r.to_s, 60 * max(m.minute) + 60) - greatest(r.from_s, 60 * min(m.minute))) / 3600 as kwh,
        -- Clocks differ, and at the ends of the stretch the other end may be ahead.
        max(m.pack_kw) filter (where m.minute > r.minute0 and m.minute < r.minute1) - min(m.pack_kw) filter (where m.minute > r.minute0 and m.minute < r.minute1) as pack_moved, max(m.pack_kw) filter (where m.minute > r.minute0 and m.minute < r.minute1) as pack_most,
        max(m.inlet_kw) filter (where m.minute > r.minute0 and m.minute < r.minute1) - min(m.inlet_kw) filter (where m.minute > r.minute0 and m.minute < r.minute1) as charger_moved, max(m.inlet_kw) filter (where m.minute > r.minute0 and m.minute < r.minute1) as charger_most
    from runs r join minute_power m on r.session_id = m.session_id and m.minute between r.minute0 and r.minute1
    group by r.source_id, r.n, r.run, r.v, r.from_s, r.to_s
),

warmed as (
    select r.source_id, r.n, r.run, r.v, max(t.cold1) - min(t.cold0) as min_k, max(t.hot1) - min(t.hot0) as max_k
    from runs r join temperatures t on r.session_id = t.session_id and t.minute between r.minute0 and r.minute1
    where r.channel like 'pack_temp_%'
    group by r.source_id, r.n, r.run, r.v
),

judged as materialized (
    select
        r.*,
        case
            when (r.channel like 'soc_%' or r.channel like '%_voltage_v') and m.kwh >= coalesce(0.08 * v.usable_kwh, 5)
                then printf('the pack took %.1f kWh', m.kwh)
            when r.channel = 'pack_temp_min_c' and w.max_k >= 8 then printf('the hottest sensor moved by %.1f K', w.max_k)
            when r.channel = 'pack_temp_max_c' and w.min_k >= 8 then printf('the coldest sensor moved by %.1f K', w.min_k)
            when r.channel = 'pack_temp_mean_c' and least(w.min_k, w.max_k) >= 8 then printf('the coldest sensor moved by %.1f K', w.min_k)
            when r.channel in ('pack_power_kw', 'pack_current_a') and m.charger_moved >= greatest(10, 0.25 * m.charger_most)
                then printf('the charger''s power moved by %.0f kW', m.charger_moved)
            when r.channel in ('charger_power_kw', 'charger_current_a') and m.pack_moved >= greatest(10, 0.25 * m.pack_most)
                then printf('the pack''s power moved by %.0f kW', m.pack_moved)
        end as witness
    from runs r
    join session s using (session_id)
    left join vehicle v using (vehicle_id)
    left join moved m on r.source_id = m.source_id and r.n = m.n and r.run = m.run and r.v = m.v
    left join warmed w on r.source_id = w.source_id and r.n = w.n and r.run = w.run and r.v = w.v
),

-- All rows of the stretch, and not only those that were looked at, have the value; but for
-- one, which is the logger's mistake.
moving as (
    select j.source_id, j.n, j.run, j.v
    from reading r join judged j on r.source_id = j.source_id
    where j.witness is not null and r.t_s between j.from_s and j.to_s
        and case j.n
            when 1 then r.soc_pct when 2 then r.soc_bms_pct when 3 then r.soc_charger_pct when 4 then r.pack_voltage_v when 5 then r.charger_voltage_v
            when 6 then r.pack_temp_min_c when 7 then r.pack_temp_max_c when 8 then r.pack_temp_mean_c when 9 then r.pack_power_kw
            when 10 then r.pack_current_a when 11 then r.charger_power_kw else r.charger_current_a
        end <> j.v
    group by j.source_id, j.n, j.run, j.v
    having count(*) > 1
)

select j.session_id, j.source_id, j.channel, j.v, j.from_s, j.to_s, j.from_line, j.to_line, j.witness
from judged j anti join moving m on j.source_id = m.source_id and j.n = m.n and j.run = m.run and j.v = m.v
where j.witness is not null
order by j.session_id, j.source_id, j.channel, j.from_s
