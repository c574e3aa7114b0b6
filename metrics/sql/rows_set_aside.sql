-- figure: rows_set_aside
-- title:  Rows of a log that could not be taken
-- unit:   %
-- better: lower
-- procedure: cold-charge, warm-charge, cabin-warmup, cold-drive, warm-drive
-- reads:  session(session_id, procedure), source(session_id, source_id, kind, path, rows_read, rows_aside)
-- method: definition is ours
--
-- The share of its rows that was set aside, of the log that lost most: values that
-- cannot be, times that go back, lines that do not parse. What is left may be wrong
-- too: a unit, a sign or a clock that a tenth of the rows betray is seldom right in the
-- others. `coldbench check` tells of each row. Notes are not in it, since a person's
-- line is no sample of others. There is no value for a session that is known from notes.

select
    s.session_id,
    max(100 * x.rows_aside / x.rows_read) as value,
    case when count(x.path) > 0 then 0 end as uncertainty,
    null::double as from_s,
    null::double as to_s,
    case when count(x.path) > 0 then 'measured' else 'none' end as status,
    case
        when count(x.path) = 0 then 'known only from notes'
        when max(x.rows_aside) > 0 then first(x.path order by x.rows_aside / x.rows_read desc, x.source_id)
    end as note
from session s left join source x on s.session_id = x.session_id and x.kind <> 'notes' and x.rows_read > 0
where s.procedure in ('cold-charge', 'warm-charge', 'cabin-warmup', 'cold-drive', 'warm-drive')
group by s.session_id
order by s.session_id
