-- figure: cabin_time_to_target
-- title:  From the soak to a warm cabin
-- unit:   min
-- better: lower
-- procedure: cabin-warmup
-- reads:  session(session_id, procedure), warmup(session_id, status, noted, target_s, u_s, target_c, last_s)
-- method: definition is ours
--
-- From the start, when the heat is switched on in a car that has soaked, until the
-- cabin's air at the probe is at the protocol's target, cabin_target_c, 20 °C unless it
-- says otherwise, and stays there for three rows (view warmup, with the uncertainty).
-- The probe is whatever the log's column cabin_temp_c comes from: put it at the same
-- place in every car. Where the log ends before, the time is longer than it: beyond.
-- There is no value where the cabin's temperature was not logged, or the log begins
-- with a warm cabin.

select
    s.session_id,
    case w.status when 'reached' then w.target_s / 60 when 'beyond' then w.last_s / 60 end as value,
    case when w.status = 'reached' then w.u_s / 60 end as uncertainty,
    case when w.status in ('reached', 'beyond') then 0 end as from_s,
    case w.status when 'reached' then w.target_s when 'beyond' then w.last_s end as to_s,
    case when w.status = 'reached' then case when w.noted then 'fallback' else 'measured' end when w.status = 'beyond' then 'beyond' else 'none' end as status,
    case
        when w.session_id is null then 'the cabin''s temperature was not logged'
        when w.status = 'beyond' then format('the log ends before {:.0f} °C', w.target_c)
        when w.status = 'warm' then format('the log begins with the cabin at {:.0f} °C or above', w.target_c)
        when w.noted then 'from notes'
    end as note
from session s
left join warmup w using (session_id)
where s.procedure = 'cabin-warmup'
order by s.session_id
