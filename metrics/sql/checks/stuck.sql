-- A sensor is stuck where a channel holds one value, to the last digit, for ten
-- minutes or more while other channels show that it must have moved:
--
--   state of charge, voltage   the pack took 8 % of what the car can use (5 kWh
--                              where that is not known): a display moves in whole
--                              percents and a pack's voltage rises by volts
--   pack temperature           another of the pack's temperatures moved by 8 K
--   power and current          the power at the other end, pack or charger, moved
--                              by a quarter of its most and by 10 kW; zero is no
--                              such value, for a pack rests while a heater takes all
--
-- The thresholds are ours: several times what displays' steps and the spread within
-- a pack make. Runs are of one source, which may repeat an old value by itself.

with

long as (
    unpivot (
        select
            session_id, source_id, line, t_s,
            soc_pct, soc_bms_pct, soc_charger_pct, pack_voltage_v, charger_voltage_v, pack_temp_min_c, pack_temp_max_c, pack_temp_mean_c,
            pack_power_kw, pack_current_a, charger_power_kw, charger_current_a
        from reading
        where t_s >= 0
    )
    on columns(* exclude (session_id, source_id, line, t_s))
    into name channel value v
),

marked as (
    select *, (v is distinct from lag(v) over w)::integer as new
    from long
    window w as (partition by session_id, source_id, channel order by t_s, line)
),

numbered as (
    select *, sum(new) over (partition by session_id, source_id, channel order by t_s, line) as run
    from marked
),

runs as (
    select session_id, source_id, channel, run, any_value(v) as v, min(t_s) as from_s, max(t_s) as to_s, min(line) as from_line, max(line) as to_line
    from numbered
    group by all
    having max(t_s) - min(t_s) >= 600 and count(*) >= 5
),

moved as (
    select
        r.*,
        max(m.pack_kwh) - min(m.pack_kwh) as kwh,
        max(m.pack_temp_min_c) - min(m.pack_temp_min_c) as min_k,
        max(m.pack_temp_max_c) - min(m.pack_temp_max_c) as max_k,
        max(m.pack_kw) - min(m.pack_kw) as pack_moved, max(m.pack_kw) as pack_most,
        max(m.charger_kw) - min(m.charger_kw) as charger_moved, max(m.charger_kw) as charger_most
    from runs r
    join minute m on m.session_id = r.session_id and 60 * m.minute >= r.from_s and 60 * (m.minute + 1) <= r.to_s
    group by all
),

judged as (
    select
        moved.*,
        case
            when (channel like 'soc_%' or channel like '%_voltage_v') and kwh >= coalesce(0.08 * vehicle.usable_kwh, 5)
                then printf('the pack took %.1f kWh', kwh)
            when channel = 'pack_temp_min_c' and max_k >= 8 then printf('the hottest sensor moved by %.1f K', max_k)
            when channel = 'pack_temp_max_c' and min_k >= 8 then printf('the coldest sensor moved by %.1f K', min_k)
            when channel = 'pack_temp_mean_c' and least(min_k, max_k) >= 8 then printf('the coldest sensor moved by %.1f K', min_k)
            when channel in ('pack_power_kw', 'pack_current_a') and v <> 0 and charger_moved >= greatest(10, 0.25 * charger_most)
                then printf('the charger''s power moved by %.0f kW', charger_moved)
            when channel in ('charger_power_kw', 'charger_current_a') and v <> 0 and pack_moved >= greatest(10, 0.25 * pack_most)
                then printf('the pack''s power moved by %.0f kW', pack_moved)
        end as witness
    from moved
    join session using (session_id)
    left join vehicle using (vehicle_id)
)

select judged.session_id, source.path, judged.channel, judged.v, judged.from_s, judged.to_s, judged.from_line, judged.to_line, judged.witness
from judged
join source using (source_id)
where judged.witness is not null
order by judged.session_id, source.path, judged.channel, judged.from_s
