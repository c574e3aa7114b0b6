-- view:   smooth
-- title:  Power into the pack, as a mean over 10 s
-- reads:  power(session_id, t_us, kw, hold_s, before_us), plug_in(session_id, t_us)
--
-- From the plug-in on, the mean of the rows in the 10 s that end with each, so
-- that a single reading that is off decides nothing (ours); in a log with longer
-- intervals, the row itself. t_us is when, in microseconds; before_us and next_us are
-- the rows beside it.

select
    session_id, t_us, hold_s,
    avg(kw) over (w range between 9500000 preceding and current row) as mean_kw,
    before_us,
    lead(t_us) over w as next_us
from (
    select p.session_id, p.t_us, p.hold_s, p.kw, case when p.before_us >= i.t_us then p.before_us end as before_us
    from power p join plug_in i using (session_id)
    where p.t_us >= i.t_us
)
window w as (partition by session_id order by t_us)
