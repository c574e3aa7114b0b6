-- view:   smoothed
-- title:  Power into the pack, as a mean over 10 s, in microseconds
-- reads:  power(session_id, t_us, kw, hold_s, before_us), plug_in(session_id, t_us), unplugged(session_id, t_us)
--
-- What the view smooth shows.

select
    session_id, t_us, hold_s,
    avg(kw) over (w range between 9500000 preceding and current row) as mean_kw,
    before_us,
    lead(t_us) over w as next_us
from (
    select p.session_id, p.t_us, p.hold_s, p.kw, case when p.before_us >= i.t_us then p.before_us end as before_us
    from power p join plug_in i using (session_id) left join unplugged d using (session_id)
    where p.t_us >= i.t_us and coalesce(p.t_us < d.t_us, true)
)
window w as (partition by session_id order by t_us)
