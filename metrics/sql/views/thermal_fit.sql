-- view:   thermal_fit
-- title:  A lumped model of the pack while it is heated
-- reads:  plug_in(session_id, t_s, t_us), onset(session_id, t_s, t_us), pack_temp(session_id, t_us, mean_c, noted, u_c, u_step_c),
--         heater(session_id, t_us, kw, before_us, before_kw), at_plug_in(session_id, air_c, air_u_c)
--
-- Between plug-in and onset the pack is one body: dT/dt = a P - b (T - T_air), where
-- P is the heater's power, 1/a its effective heat capacity in kWh/K, what the heater
-- loses on the way included, and 1/b its time constant of cooling, in h (the lumped
-- law of texts on heat transfer, Incropera and others; good while the Biot number is
-- below 0.1). Integrated, T = start_c + a Q - b A, with Q the heater's energy and A
-- the integral of T - T_air so far, both measured: least squares of the pack's mean
-- temperature, a row every 10 s, on the two. Where the heater's log has a gap, the mean of
-- its ends is taken, as of the temperature: the pack was heated all the same, and what is left
-- out of Q would make it look lighter than it is. Half an hour tells little of b, so 0.03/h
-- give or take 0.03/h (packs cool with time constants from 15 h on; ours) is one more
-- observation. Rows of one step of the log are not independent of each other: there
-- are no more than twice as many as steps.
-- ab_r is the correlation of a and b, by the inverse of the normal equations.
-- n rows, rise_k the rise, resid_k the residual standard deviation, kw the median
-- power of the heater while it ran, and steady its spread over it.

with

rows_of as materialized (
    select
        t.session_id, t.t_us // 10000000 as tenth, min(t.t_us) as t_us, min(t.t_us) / 1e6 as t_s, arg_min(t.mean_c, t.t_us) as mean_c,
        any_value(t.u_c) as u_c, any_value(t.u_step_c) as u_step_c, any_value(i.t_s) as plug_s, any_value(o.t_s) as onset_s
    from pack_temp t join plug_in i using (session_id) join onset o using (session_id)
    where not t.noted and t.t_us >= i.t_us and t.t_us <= o.t_us
    group by t.session_id, t.t_us // 10000000
),

powers as (
    select h.session_id, median(h.kw) as kw, stddev_pop(h.kw) / avg(h.kw) as steady
    from heater h join plug_in i using (session_id) join onset o using (session_id)
    where h.t_us > h.before_us and h.t_us > i.t_us and h.t_us <= o.t_us and h.kw > 0.5
    group by h.session_id
),

-- The heater's energy in each ten seconds, and what of it came before the row there.
tenths as (
    select
        p.session_id, p.tenth, sum(p.kwh) as kwh, coalesce(sum(p.kwh) filter (where p.t_us <= r.t_us), 0) as before_kwh
    from (
        select
            h.session_id, h.t_us, h.t_us // 10000000 as tenth,
            (h.before_kw + h.kw) / 2 * (h.t_us - greatest(h.before_us, i.t_us)) / 3600e6 as kwh
        from heater h join plug_in i using (session_id) join onset o using (session_id)
        where h.t_us > h.before_us and h.t_us > i.t_us and h.before_us < o.t_us
    ) p
    left join rows_of r on p.session_id = r.session_id and p.tenth = r.tenth
    group by p.session_id, p.tenth
),

heated as (
    select
        session_id, tenth, before_kwh,
        sum(kwh) over (partition by session_id order by tenth) as kwh,
        sum(kwh) over (partition by session_id order by tenth) - kwh as earlier_kwh
    from tenths
),

integrated as (
    select
        r.session_id, r.t_s, r.mean_c, r.u_c, r.u_step_c, r.plug_s, r.onset_s, a.air_c, a.air_u_c,
        coalesce(case when h.tenth = r.tenth then h.earlier_kwh + h.before_kwh else h.kwh end, 0) as q,
        -coalesce(sum(((r.mean_c + r.before_c) / 2 - a.air_c) * (r.t_s - r.before_s) / 3600) over (partition by r.session_id order by r.t_s), 0) as x
    from (
        select *, lag(mean_c) over w as before_c, lag(t_s) over w as before_s
        from rows_of
        window w as (partition by session_id order by t_s)
    ) r
    join at_plug_in a using (session_id)
    asof left join heated h on r.session_id = h.session_id and r.tenth >= h.tenth
    where a.air_c is not null
),

sums as (
    select
        session_id, count(*)::double as n, avg(mean_c) as y, avg(q) as q, avg(x) as x,
        count(*) * var_pop(q) as sqq, count(*) * var_pop(x) as sxx, count(*) * covar_pop(q, x) as sqx,
        count(*) * covar_pop(q, mean_c) as sqy, count(*) * covar_pop(x, mean_c) as sxy, count(*) * var_pop(mean_c) as syy,
        max(q) - min(q) as heat_kwh, arg_max(x, t_s) as last_x, max(u_c) as u_c, max(u_step_c) as u_step_c, any_value(air_c) as air_c, any_value(air_u_c) as air_u_c,
        any_value(plug_s) as plug_s, any_value(onset_s) as onset_s
    from integrated
    group by session_id
    having count(*) >= 10 and var_pop(q) > 0
),

-- The noise, from a line on the heater's energy alone; a log's step at least.
noise as (
    select *, greatest((syy - sqy ** 2 / sqq) / (n - 2), u_step_c ** 2, 1e-4) as s2 from sums
),

solved as (
    select
        *,
        s2 / 0.03 ** 2 as prior,
        sqq * (sxx + s2 / 0.03 ** 2) - sqx ** 2 as det
    from noise
),

fitted as (
    select
        *,
        ((sxx + prior) * sqy - sqx * (sxy + prior * 0.03)) / det as a,
        (sqq * (sxy + prior * 0.03) - sqx * sqy) / det as b
    from solved
),

judged as (
    select
        *,
        y - a * q - b * x as start_c,
        sqrt(greatest(syy - 2 * a * sqy - 2 * b * sxy + a ** 2 * sqq + 2 * a * b * sqx + b ** 2 * sxx, 0) / (n - 2)) as resid_k,
        a * heat_kwh + b * last_x as rise_k
    from fitted
)

select
    j.session_id, j.plug_s, j.onset_s, j.n, j.a, j.b, j.start_c, j.resid_k, j.rise_k, j.heat_kwh, j.air_c, j.air_u_c, p.kw, p.steady,
    sqrt(j.s2 * (j.sxx + j.prior) / j.det * greatest(1, j.n / greatest(2 * j.rise_k / greatest(j.u_step_c * sqrt(12), 0.05), 4))) as a_u,
    sqrt(j.s2 * j.sqq / j.det) as b_u,
    -j.sqx / sqrt(j.sqq * (j.sxx + j.prior)) as ab_r,
    sqrt(j.u_c ** 2 + j.s2 / greatest(2 * j.rise_k / greatest(j.u_step_c * sqrt(12), 0.05), 4)) as start_u_c
from judged j left join powers p using (session_id)
