-- figure: delay_shift
-- title:  What the reference soak changes of the delay
-- unit:   min
-- better: neither
-- procedure: cold-charge
-- reads:  session(session_id, procedure), protocol(reference_soak_c), onset(session_id, t_s),
--         thermal_fit(session_id, plug_s, onset_s, n, a, a_u, b, b_u, ab_r, start_c, start_u_c, resid_k, rise_k, kw, steady)
-- method: lumped thermal model, Incropera and other texts on heat transfer; the use is ours
--
-- A pack that starts at the protocol's reference soak, in air of that temperature, takes
-- longer or shorter to the same mean temperature at which this session's charge began, by
-- the model that was fitted to this session (view thermal_fit) and its heater's median
-- power: t = -ln(1 - b (T_onset - T_start)/(a P)) / b, from the reference less from this
-- session's own start. The charge at the start is not corrected for: the delay does not
-- depend on it in the model.
-- There is no value, with the reason, where the heater or the pack's temperature was not
-- logged; for a rise of less than 5 K; where the residuals are above 1.5 K or the heater's
-- power varies by more than a quarter (the model is not this car's); where the reference is
-- more than 12 K from the session's own start, or less than 2 K below the onset: beyond what
-- was seen (all ours).
-- Uncertainty: the heat capacity and the loss, which are fitted together and go together,
-- with their correlation (JCGM 100, 5.2.2), each by what one uncertainty more would change;
-- and the pack's temperature at the start. The heater's instrument is in heat capacity and
-- power alike and cancels.

with

known as (
    select
        f.*, p.reference_soak_c as ref_c,
        f.start_c + f.rise_k as end_c,
        f.a * f.kw as pace_k_h,
        greatest(f.b, 1e-4) as loss_h
    from thermal_fit f cross join protocol p
),

shifted as (
    select
        *,
        case when loss_h * (end_c - ref_c) < 0.9 * pace_k_h and loss_h * (end_c - start_c) < 0.9 * pace_k_h
            then 60 / loss_h * (ln(1 - loss_h * (end_c - start_c) / pace_k_h) - ln(1 - loss_h * (end_c - ref_c) / pace_k_h)) end as shift_min,
        -- The same with the loss one uncertainty higher.
        case when (loss_h + b_u) * (end_c - ref_c) < 0.9 * pace_k_h and (loss_h + b_u) * (end_c - start_c) < 0.9 * pace_k_h
            then 60 / (loss_h + b_u) * (ln(1 - (loss_h + b_u) * (end_c - start_c) / pace_k_h) - ln(1 - (loss_h + b_u) * (end_c - ref_c) / pace_k_h)) end as lossy_min,
        -- And with the heat capacity one lower.
        case when loss_h * (end_c - ref_c) < 0.9 * pace_k_h and loss_h * (end_c - start_c) < 0.9 * pace_k_h
            then 60 / loss_h * (ln(1 - loss_h * (end_c - start_c) / (pace_k_h * (1 + a_u / a))) - ln(1 - loss_h * (end_c - ref_c) / (pace_k_h * (1 + a_u / a)))) end as light_min,
        60 / pace_k_h * start_u_c as u_start_min
    from known
),

judged as (
    select
        s.session_id, o.t_s as onset_s, k.*  exclude (session_id, onset_s),
        case
            when o.t_s is null then 'no onset was found'
            when k.n is null or k.kw is null then 'heater and pack temperature were not both logged while it was heated'
            when k.rise_k < 5 then format('the pack rose by {:.1f} K only', k.rise_k)
            when k.resid_k > 1.5 then format('the model is off by {:.1f} K', k.resid_k)
            when k.steady > 0.25 then format('the heater varied by {:.0f} %', 100 * k.steady)
            when abs(k.start_c - k.ref_c) > 12 then format('the reference, {:.0f} °C, is too far from the {:.0f} °C at which this session began', k.ref_c, k.start_c)
            when k.end_c - k.ref_c < 2 then format('the reference, {:.0f} °C, is too near to the {:.0f} °C at which the charge began', k.ref_c, k.end_c)
            when k.shift_min is null then 'the heater could not keep up with the loss'
        end as reason
    from session s
    left join onset o using (session_id)
    left join shifted k using (session_id)
    where s.procedure = 'cold-charge'
)

select
    session_id,
    case when reason is null then shift_min end as value,
    case when reason is null then sqrt(
        (light_min - shift_min) ** 2 + coalesce(lossy_min - shift_min, 0) ** 2 + 2 * ab_r * (light_min - shift_min) * coalesce(lossy_min - shift_min, 0)
        + u_start_min ** 2) end as uncertainty,
    plug_s as from_s,
    onset_s as to_s,
    case when reason is null then 'measured' else 'none' end as status,
    case when reason is null then format('{:.3f} kWh/K, {:.1f} kW, from {:.1f} to {:.1f} °C; off by {:.2f} K over {:.0f} rows', 1 / a, kw, start_c, end_c, resid_k, n) else reason end as note
from judged
order by session_id
