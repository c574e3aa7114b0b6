-- figure: energy_before_onset_at_reference
-- title:  Energy from the charger before charge, at the reference soak
-- unit:   kWh
-- better: lower
-- procedure: cold-charge
-- reads:  session(session_id, vehicle_id, procedure), result(session_id, figure, value, uncertainty, status), protocol(reference_soak_c),
--         soak_line(vehicle_id, figure, n, coldest_c, warmest_c, slope, slope_u, r2)
-- method: definition is ours
--
-- The figure energy_before_onset as it would have been after a soak at the protocol's
-- reference temperature, so that a mild night gets no bonus: what was measured, and
-- what the thermal model of this session changes (figure delay_shift, at the mean power of the heater and as much more as the charger gave than it).
-- Where there is no model, a line through three or more of the car's sessions at
-- different soaks (view soak_line), if the reference is within 3 K of what they span: a
-- fallback. Otherwise, or where the raw figure has no value, there is none, and the note
-- says why. It is never corrected twice: only raw figures are. Uncertainty: the raw
-- figure's and the correction's.

with

soaks as (
    select session_id, coalesce(max(case when figure = 'pack_temp_at_plug_in' then value end), max(case when figure = 'ambient_at_plug_in' then value end)) as c
    from result
    where figure in ('pack_temp_at_plug_in', 'ambient_at_plug_in') and status in ('measured', 'fallback')
    group by session_id
),

parts as (
    select
        s.session_id, r.value as raw, r.uncertainty as raw_u, r.status as raw_status,
        d.value * h.value / 60 * r.value / q.value as model, d.uncertainty * h.value / 60 * r.value / q.value as model_u,
        case when p.reference_soak_c between l.coldest_c - 3 and l.warmest_c + 3 then l.slope * (p.reference_soak_c - k.c) end as line,
        sqrt((l.slope_u * (p.reference_soak_c - k.c)) ** 2 + (0.5 * l.slope) ** 2) as line_u,
        l.n, l.r2, p.reference_soak_c as ref_c
    from session s
    cross join protocol p
    left join result r on s.session_id = r.session_id and r.figure = 'energy_before_onset' and r.status in ('measured', 'fallback')
    left join result d on s.session_id = d.session_id and d.figure = 'delay_shift' and d.status in ('measured', 'fallback')
    left join result h on s.session_id = h.session_id and h.figure = 'heater_mean_before_onset' and h.status in ('measured', 'fallback')
    left join result q on s.session_id = q.session_id and q.figure = 'heat_before_onset' and q.status in ('measured', 'fallback') and q.value > 0
    left join soaks k on s.session_id = k.session_id
    left join soak_line l on s.vehicle_id = l.vehicle_id and l.figure = 'energy_before_onset'
    where s.procedure = 'cold-charge'
)

select
    session_id,
    raw + coalesce(model, line) as value,
    case when raw + coalesce(model, line) is not null then sqrt(raw_u ** 2 + case when model is not null then model_u else line_u end ** 2) end as uncertainty,
    null::double as from_s,
    null::double as to_s,
    case when raw is null or coalesce(model, line) is null then 'none' when model is null or raw_status = 'fallback' then 'fallback' else 'measured' end as status,
    case
        when raw is null then 'there is no raw value to correct'
        when model is not null then format('thermal model: {:+.2f} kWh to {:.0f} °C', model, ref_c)
        when line is not null then format('line through {} sessions, R2 {:.2f}: {:+.2f} kWh to {:.0f} °C', n, r2, line, ref_c)
        else 'no thermal model, and no three sessions of the car at soaks around the reference'
    end as note
from parts
order by session_id
