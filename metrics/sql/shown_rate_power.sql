-- figure: shown_rate_power
-- title:  Displayed charge rate as power
-- unit:   kW
-- better: neither
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure, vehicle_id), vehicle(vehicle_id, rated_wh_km), onset(session_id, t_s),
--         reading(session_id, source_id, t_s, line, shown_rate_km_h), source(source_id, kind), instrument(source_id, channel, resolution)
-- method: definition is ours
--
-- The highest charge rate that the car displayed after the onset, in range an hour,
-- times its rated consumption: what the number on the screen claims in kW. 1000 km/h of
-- range at 160 Wh/km are 160 kW. Set beside peak_power it shows what the display makes
-- of it. Uncertainty: the last digit of the display. There is no value where no rate
-- was logged or noted, or the rated consumption is not stated.

with

top as (
    select r.session_id, r.t_s, r.shown_rate_km_h as km_h, x.kind = 'notes' as noted, coalesce(i.resolution, 1) as step_km_h, o.t_s as onset_s
    from reading r
    join onset o using (session_id)
    join source x on r.source_id = x.source_id
    left join instrument i on r.source_id = i.source_id and i.channel = 'shown_rate_km_h'
    where r.shown_rate_km_h is not null and r.t_s >= o.t_s
    qualify row_number() over (partition by r.session_id order by r.shown_rate_km_h desc, r.t_s, r.line, r.source_id) = 1
)

select
    s.session_id,
    m.km_h * v.rated_wh_km / 1000 as value,
    m.step_km_h / sqrt(12) * v.rated_wh_km / 1000 as uncertainty,
    m.onset_s as from_s,
    m.t_s as to_s,
    case when m.km_h is null or v.rated_wh_km is null then 'none' when m.noted then 'fallback' else 'measured' end as status,
    case
        when m.km_h is null then 'no charge rate was displayed after the onset'
        when v.rated_wh_km is null then 'the rated consumption is not stated'
        when m.noted then 'from notes'
    end as note
from session s
left join vehicle v using (vehicle_id)
left join top m using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
