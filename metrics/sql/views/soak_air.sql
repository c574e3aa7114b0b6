-- view:   soak_air
-- title:  The air over the soak
-- reads:  soak(session_id, from_s, to_s), air(session_id, source_id, t_s, line, instrument, preference, hold_s, c, u_c)
--
-- Mean over time of the air from the start of the soak to the plug-in, by the most
-- preferred instrument that covers at least three quarters of it: trapezoids over
-- its own rows, clipped to the soak. Two rows further apart than the instrument's
-- hold are not joined. u_mean_c: the instrument, the same in all rows; and for each
-- pair of rows a change that may lie anywhere within it, (difference x
-- time)/sqrt(12). low_c and high_c are its extremes, u_c the instrument's.

with

pieces as (
    select
        session_id, instrument, preference, hold_s, u_c, t_s as t0, c as c0,
        lead(t_s) over w as t1,
        lead(c) over w as c1
    from air
    window w as (partition by session_id, instrument order by t_s, line, source_id)
),

clipped as (
    select
        p.*,
        k.from_s, k.to_s,
        greatest(p.t0, k.from_s) as a,
        least(p.t1, k.to_s) as b
    from pieces p join soak k using (session_id)
    where p.t1 > p.t0 and p.t1 > k.from_s and p.t0 < k.to_s and p.t1 - p.t0 <= p.hold_s
),

means as (
    select
        session_id, instrument, preference,
        sum((2 * c0 + (c1 - c0) * (a + b - 2 * t0) / (t1 - t0)) / 2 * (b - a)) / sum(b - a) as mean_c,
        sqrt(sum(((c1 - c0) * (b - a)) ** 2 / 12) / sum(b - a) ** 2 + max(u_c) ** 2) as u_mean_c,
        least(min(c0), min(c1)) as low_c, greatest(max(c0), max(c1)) as high_c, max(u_c) as u_c,
        sum(b - a) / any_value(to_s - from_s) as covered,
        min(a) as a,
        max(b) as b
    from clipped
    group by session_id, instrument, preference
),

chosen as (
    select * from means where covered >= 0.75 qualify row_number() over (partition by session_id order by preference) = 1
)

select * from chosen
order by session_id
