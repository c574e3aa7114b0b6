-- view:   at_reference
-- title:  Raw figures as they would be after the reference soak
-- reads:  session(session_id, vehicle_id, procedure), result(session_id, figure, value, uncertainty, status), protocol(reference_soak_c),
--         soak_line(vehicle_id, figure, n, coldest_c, warmest_c, slope, slope_u, r2)
--
-- A row for each cold-charge session and each raw figure that the soak changes: what
-- was measured, and what the thermal model of this session changes. Times change by the
-- figure delay_shift; heat by it at the mean power of the heater; the charger's energy by
-- that and as much more as the charger gave than the heater took. Where there is no model,
-- a line through three or more of the car's sessions at different soaks (view soak_line),
-- if the reference is within 3 K of what they span: a fallback. Otherwise, or where the
-- raw figure has no value, there is none, and the note says why. Nothing is corrected
-- twice: only raw figures are here. Uncertainty: the raw figure's and the correction's; of
-- a line half a kelvin of the soak's temperature with it (ours). status and note are as
-- figures give them.

with

raws (raw, unit) as (
    values
        ('delay_to_onset', 'min'), ('time_10_80_plug_in', 'min'), ('time_window_plug_in', 'min'),
        ('heat_before_onset', 'kWh'), ('energy_before_onset', 'kWh')
),

known as (
    from result where status in ('measured', 'fallback')
),

soaks as (
    select session_id, coalesce(max(case when figure = 'pack_temp_at_plug_in' then value end), max(case when figure = 'ambient_at_plug_in' then value end)) as c
    from known
    where figure in ('pack_temp_at_plug_in', 'ambient_at_plug_in')
    group by session_id
),

-- What a minute more of delay is, in the figure's unit.
paces as (
    select
        s.session_id, x.raw,
        case x.raw
            when 'heat_before_onset' then h.value / 60
            when 'energy_before_onset' then h.value / 60 * r.value / nullif(q.value, 0)
            else 1
        end as pace
    from session s
    cross join raws x
    left join known h on s.session_id = h.session_id and h.figure = 'heater_mean_before_onset'
    left join known q on s.session_id = q.session_id and q.figure = 'heat_before_onset'
    left join known r on s.session_id = r.session_id and r.figure = 'energy_before_onset'
),

parts as (
    select
        s.session_id, x.raw as figure, x.unit, r.value as raw, r.uncertainty as raw_u, r.status as raw_status,
        d.value * e.pace as model, d.uncertainty * e.pace as model_u,
        case when p.reference_soak_c between l.coldest_c - 3 and l.warmest_c + 3 then l.slope * (p.reference_soak_c - k.c) end as line,
        sqrt((l.slope_u * (p.reference_soak_c - k.c)) ** 2 + (0.5 * l.slope) ** 2) as line_u,
        l.n, l.r2, p.reference_soak_c as ref_c
    from session s
    cross join raws x
    cross join protocol p
    join paces e on s.session_id = e.session_id and x.raw = e.raw
    left join known r on s.session_id = r.session_id and r.figure = x.raw
    left join known d on s.session_id = d.session_id and d.figure = 'delay_shift'
    left join soaks k on s.session_id = k.session_id
    left join soak_line l on s.vehicle_id = l.vehicle_id and l.figure = x.raw
    where s.procedure = 'cold-charge'
)

select
    session_id, figure,
    raw + coalesce(model, line) as value,
    case when raw + coalesce(model, line) is not null then sqrt(raw_u ** 2 + case when model is not null then model_u else line_u end ** 2) end as u,
    case when raw is null or coalesce(model, line) is null then 'none' when model is null or raw_status = 'fallback' then 'fallback' else 'measured' end as status,
    case
        when raw is null then 'there is no raw value to correct'
        when model is not null then format('thermal model: {:+.2f} {} to {:.0f} °C', model, unit, ref_c)
        when line is not null then format('line through {} sessions, R2 {:.2f}: {:+.2f} {} to {:.0f} °C', n, r2, line, unit, ref_c)
        else 'no thermal model, and no three sessions of the car at soaks around the reference'
    end as note
from parts
