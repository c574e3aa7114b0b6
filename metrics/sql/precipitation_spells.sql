-- figure: precipitation_spells
-- title:  Snow or rain on the car in the soak
-- unit:   1
-- better: lower
-- procedure: cold-charge, cabin-warmup, cold-drive, standby
-- reads:  session(session_id, procedure), soak(session_id, from_s, to_s), event(session_id, kind, t_s, text), source(source_id, kind),
--         reading(session_id, source_id, line, t_s, precipitation_mm)
-- method: 40 CFR 1066.710(a)(3), as precedent for asking
--
-- How often notes or weather reports told of precipitation between the start of the
-- soak and the plug-in: snow on a car insulates it. Frost is not precipitation: every clear night has it.
-- A weather report (METAR) or a note tells of a spell once, where it begins; of a rain gauge each run
-- of rows with some is one. What nobody reported is not counted, so a count of
-- nothing is as good as the reports are, and there is no value where nobody reported
-- any: a report is a weather report, a row of a rain gauge, or a note of snow or rain
-- or that there is none ("no snow", "dry night"). A thermometer, or a station of which only air
-- and wind are read, reports none. Nor is there a value where nothing says when the soak began.

with

gauged as (
    select r.session_id, r.precipitation_mm > 0 and not coalesce(lag(r.precipitation_mm > 0) over (partition by r.source_id order by r.t_s, r.line), false) as began
    from reading r join soak k using (session_id)
    where r.precipitation_mm is not null and r.t_s between k.from_s and k.to_s
),

told as (
    select session_id, began from gauged
    union all
    select r.session_id, false
    from reading r join source o using (source_id) join soak k on r.session_id = k.session_id
    where o.kind = 'metar' and r.t_s between k.from_s and k.to_s
    union all
    select e.session_id, e.kind = 'precipitation'
    from event e join soak k using (session_id)
    where e.t_s between k.from_s and k.to_s
        and (e.kind = 'precipitation'
            or e.kind = 'note' and regexp_matches(lower(e.text),
                '^[^?]*(\b(no|without) ((any|more|fresh|new) )*(snow|rain|hail|sleet|precipitation)\b|\b(car|all|and|is|was|still|stayed|weather) dry\b|\bdry (night|weather)\b|^dry$)[^?]*$'))
),

reports as (
    select session_id, count(*) filter (where began) as n from told group by session_id
)

select
    s.session_id,
    case when k.from_s is not null then r.n end as value,
    case when k.from_s is not null and r.n is not null then 0 end as uncertainty,
    k.from_s,
    k.to_s,
    case when k.from_s is not null and r.n is not null then 'measured' else 'none' end as status,
    case when k.from_s is null then 'nothing says when the soak began' when r.n is null then 'nobody reported the weather in the soak' end as note
from session s
left join soak k using (session_id)
left join reports r using (session_id)
where s.procedure in ('cold-charge', 'cabin-warmup', 'cold-drive', 'standby')
order by s.session_id
