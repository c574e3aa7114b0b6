-- figure: stuck_time
-- title:  Longest time that a channel was stuck
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), offer(session_id, noted), stuck(session_id, source_id, channel, v, from_s, to_s, witness), source(source_id, path)
-- method: definition is ours
--
-- The longest stretch, of ten minutes or more, in which a channel of a log held one value,
-- to the last digit, while others show that it must have moved (view stuck): a sensor that is
-- stuck, or a logger that repeats an old value. Where none did it is 0. There is no value for a
-- session that is known from notes alone. It is as sure as the times of the rows: no uncertainty.

with

longest as (
    select k.*, o.path
    from stuck k join source o using (source_id)
    qualify row_number() over (partition by k.session_id order by k.to_s - k.from_s desc, k.channel, k.source_id) = 1
),

logged as (
    select distinct session_id from offer where not noted
)

select
    s.session_id,
    case when l.session_id is not null then coalesce(k.to_s - k.from_s, 0) / 60 end as value,
    case when l.session_id is not null then 0 end as uncertainty,
    k.from_s,
    k.to_s,
    case when l.session_id is not null then 'measured' else 'none' end as status,
    case
        when l.session_id is null then 'no log tells of it'
        when k.session_id is not null then format('{} holds {} in {}, and {}', k.channel, printf('%.6g', k.v), k.path, k.witness)
    end as note
from session s
left join logged l on s.session_id = l.session_id
left join longest k on s.session_id = k.session_id
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
