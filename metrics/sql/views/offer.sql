-- view:   offer
-- title:  What each source tells of each quantity, for how long and how closely
-- reads:  reading(session_id, source_id, t_s, t_us, pack_voltage_v, pack_current_a, pack_power_kw, pack_energy_kwh, charger_power_kw,
--         charger_voltage_v, charger_current_a, charger_energy_kwh, heater_power_kw, cabin_heater_power_kw, accessory_power_kw,
--         soc_pct, soc_charger_pct, pack_temp_min_c, pack_temp_max_c, pack_temp_mean_c), source(source_id, kind, offset_u_s)
--
-- A row for every session, source and quantity that the source has at least
-- twice (the display's charge, the charge that the car tells the charger and the pack's temperatures: once), from ten
-- minutes before the plug-in on. Views that choose one source of several choose
-- by it: notes only where there is no log, and enough ones first.
-- hold_s is how far apart two rows may lie and still be joined: 60 s (40 CFR
-- 1066.710 asks for a row at least that often); for a log whose own mean interval
-- is longer, one and a half of it, but no more than 10 min (ours); for notes,
-- which people write when something moves, 15 min (ours).
-- covered_s is the time from the first to the last row, 0 if they lie further
-- apart than 10 min in the mean. enough: at least half of the longest of the
-- same side (pack, inlet; or the same quantity), and of the two sides together
-- 10 min or half of the longest, so that a few stray values never go before a
-- log of the whole charge (ours).

with

told as (
    select
        session_id, source_id,
        case when pack_voltage_v is not null and pack_current_a is not null then t_us end as pack_vi,
        case when pack_current_a is not null then t_us end as pack_i,
        case when pack_voltage_v is not null then t_us end as pack_v,
        case when pack_power_kw is not null then t_us end as pack_kw,
        case when pack_energy_kwh is not null then t_us end as pack_kwh,
        case when charger_power_kw is not null then t_us end as charger_kw,
        case when charger_voltage_v is not null and charger_current_a is not null then t_us end as charger_vi,
        case when charger_energy_kwh is not null then t_us end as charger_kwh,
        case when heater_power_kw is not null then t_us end as heater_kw,
        case when cabin_heater_power_kw is not null then t_us end as cabin_kw,
        case when accessory_power_kw is not null then t_us end as accessory_kw,
        case when heater_power_kw is not null and (pack_power_kw is not null or pack_voltage_v is not null and pack_current_a is not null) then t_us end as car_sum,
        case when soc_pct is not null then t_us end as soc,
        case when soc_charger_pct is not null then t_us end as soc_told,
        case when coalesce(pack_temp_min_c, pack_temp_max_c, pack_temp_mean_c) is not null then t_us end as pack_temp
    from reading
    where t_s >= -600
),

counted as (
    select
        session_id, source_id,
        {'n': count(pack_vi), 'a': min(pack_vi) / 1e6, 'b': max(pack_vi) / 1e6} as pack_vi,
        -- Voltage and current in rows of their own, as on a bus.
        case when least(count(pack_i), count(pack_v)) > 2 * count(pack_vi)
            then {'n': least(count(pack_i), count(pack_v)), 'a': greatest(min(pack_i), min(pack_v)) / 1e6, 'b': least(max(pack_i), max(pack_v)) / 1e6} end as pack_vi_apart,
        {'n': count(pack_kw), 'a': min(pack_kw) / 1e6, 'b': max(pack_kw) / 1e6} as pack_kw,
        {'n': count(pack_kwh), 'a': min(pack_kwh) / 1e6, 'b': max(pack_kwh) / 1e6} as pack_kwh,
        {'n': count(charger_kw), 'a': min(charger_kw) / 1e6, 'b': max(charger_kw) / 1e6} as charger_kw,
        {'n': count(charger_vi), 'a': min(charger_vi) / 1e6, 'b': max(charger_vi) / 1e6} as charger_vi,
        {'n': count(charger_kwh), 'a': min(charger_kwh) / 1e6, 'b': max(charger_kwh) / 1e6} as charger_kwh,
        {'n': count(heater_kw), 'a': min(heater_kw) / 1e6, 'b': max(heater_kw) / 1e6} as heater_kw,
        {'n': count(cabin_kw), 'a': min(cabin_kw) / 1e6, 'b': max(cabin_kw) / 1e6} as cabin_kw,
        {'n': count(accessory_kw), 'a': min(accessory_kw) / 1e6, 'b': max(accessory_kw) / 1e6} as accessory_kw,
        {'n': count(car_sum), 'a': min(car_sum) / 1e6, 'b': max(car_sum) / 1e6} as car_sum,
        {'n': count(soc), 'a': min(soc) / 1e6, 'b': max(soc) / 1e6} as soc,
        {'n': count(soc_told), 'a': min(soc_told) / 1e6, 'b': max(soc_told) / 1e6} as soc_told,
        {'n': count(pack_temp), 'a': min(pack_temp) / 1e6, 'b': max(pack_temp) / 1e6} as pack_temp
    from told
    group by session_id, source_id
),

listed as (
    unpivot counted
    on pack_vi, pack_vi_apart, pack_kw, pack_kwh, charger_kw, charger_vi, charger_kwh, heater_kw, cabin_kw, accessory_kw, car_sum, soc, soc_told, pack_temp
    into name quantity value held
),

measured as (
    select
        l.session_id, l.source_id, l.quantity, s.kind = 'notes' as noted, s.offset_u_s,
        case
            when l.quantity in ('pack_vi', 'pack_vi_apart', 'pack_kw', 'pack_kwh') then 'pack'
            when l.quantity in ('charger_kw', 'charger_vi', 'charger_kwh') then 'inlet'
            when l.quantity = 'soc_told' then 'soc'
            else l.quantity
        end as side,
        l.held.n as rows_held, l.held.a as from_s, l.held.b as to_s,
        (l.held.b - l.held.a) / nullif(l.held.n - 1, 0) as interval_s
    from listed l join source s using (source_id)
    where l.held.n >= case when l.quantity in ('soc', 'soc_told', 'pack_temp') then 1 else 2 end
),

covered as (
    select *, case when interval_s <= case when noted then 'infinity'::double else 600 end then to_s - from_s else 0 end as covered_s from measured
)

select
    session_id, source_id, quantity, noted, offset_u_s, rows_held, from_s, to_s, covered_s,
    case when noted then 900 else greatest(60, least(600, coalesce(1.5 * interval_s, 0))) end as hold_s,
    covered_s >= max(covered_s) over (partition by session_id, noted, side) / 2
        and (side not in ('pack', 'inlet')
            or covered_s >= least(600, max(covered_s) filter (where side in ('pack', 'inlet')) over (partition by session_id, noted) / 2)) as enough
from covered
order by session_id, source_id, quantity
