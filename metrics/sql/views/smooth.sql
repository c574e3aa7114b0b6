-- view:   smooth
-- title:  Power into the pack, as a mean over 10 s
-- made:   in place
-- reads:  smoothed(session_id, t_us, hold_s, mean_kw, before_us, next_us)
--
-- From the plug-in on, and until the cable is pulled (view unplugged), the mean of the rows in the 10 s that end with each, so
-- that a single reading that is off decides nothing (ours); in a log with longer
-- intervals, the row itself. before_s and next_s are the rows beside it. t_us, before_us
-- and next_us are the same in whole microseconds (view power).

select
    session_id, t_us / 1e6 as t_s, t_us, hold_s, mean_kw, before_us / 1e6 as before_s, before_us, next_us / 1e6 as next_s, next_us
from smoothed
