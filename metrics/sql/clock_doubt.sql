-- figure: clock_doubt
-- title:  How far the session's clocks may be apart
-- unit:   s
-- better: lower
-- procedure: cold-charge, warm-charge, cabin-warmup, cold-drive, warm-drive
-- reads:  session(session_id, procedure, zero_u_s), source(session_id, source_id, kind, path, offset_u_s)
-- method: definition is ours
--
-- The largest standard uncertainty of a log's clock against the session's zero: that of
-- its offset, and that of the zero. A log that never was set beside another, and states
-- no offset, counts as right: nobody can tell. Notes are not in it. Delays carry it as
-- uncertainty already; a large one says that the clocks should have been set. There is no
-- value for a session that is known from notes. The log is named where it is any.

select
    s.session_id,
    max(sqrt(x.offset_u_s ** 2 + s.zero_u_s ** 2)) as value,
    case when count(x.path) > 0 then 0 end as uncertainty,
    null::double as from_s,
    null::double as to_s,
    case when count(x.path) > 0 then 'measured' else 'none' end as status,
    case
        when count(x.path) = 0 then 'known only from notes'
        when max(x.offset_u_s) > 0 then first(x.path order by x.offset_u_s desc, x.source_id)
    end as note
from session s left join source x on s.session_id = x.session_id and x.kind <> 'notes'
where s.procedure in ('cold-charge', 'warm-charge', 'cabin-warmup', 'cold-drive', 'warm-drive')
group by s.session_id
order by s.session_id
