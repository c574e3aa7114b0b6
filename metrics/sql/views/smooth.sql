-- view:   smooth
-- title:  Power into the pack, as a mean over 10 s
-- reads:  power(session_id, t_s, kw, hold_s, before_s), plug_in(session_id, t_s)
--
-- From the plug-in on, the mean of the rows in the 10 s that end with each, so
-- that a single reading that is off decides nothing (ours); in a log with longer
-- intervals, the row itself. before_s and next_s are the rows beside it.
-- The frame is in whole microseconds, to which times are kept: DuckDB compares
-- integers faster than doubles, of which any may be no number.

select
    session_id, us / 1e6 as t_s, hold_s,
    avg(kw) over (w range between 9500000 preceding and current row) as mean_kw,
    before_s,
    lead(us) over w / 1e6 as next_s
from (
    select
        p.session_id, p.hold_s, p.kw,
        case when p.before_s >= i.t_s then p.before_s end as before_s,
        (p.t_s * 1000000)::bigint as us
    from power p join plug_in i using (session_id)
    where p.t_s >= i.t_s
)
window w as (partition by session_id order by us)
