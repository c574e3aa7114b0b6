-- view:   smooth
-- title:  Power into the pack, as a mean over 10 s
-- reads:  power(session_id, t_s, line, kw, hold_s, u_abs_kw), plug_in(session_id, t_s)
--
-- From the plug-in on, the mean of the rows in the 10 s that end with each, so
-- that a single reading that is off decides nothing (ours); in a log with longer
-- intervals, the row itself. next_s is the row after, next_kw its mean.

select
    session_id, t_s, line, kw, mean_kw, hold_s, u_abs_kw, plug_s,
    lead(t_s) over w as next_s,
    lead(mean_kw) over w as next_kw,
    lag(t_s) over w as before_s,
    lag(mean_kw) over w as before_kw
from (
    select
        p.session_id, p.t_s, p.line, p.kw, p.hold_s, p.u_abs_kw, i.t_s as plug_s,
        avg(p.kw) over (partition by p.session_id order by p.t_s range between 9.5 preceding and current row) as mean_kw
    from power p join plug_in i using (session_id)
    where p.t_s >= i.t_s
)
window w as (partition by session_id order by t_s, line)
