-- figure: soak_excursion
-- title:  Longest time that the air was off its mean in the soak
-- unit:   min
-- better: lower
-- procedure: cold-charge, cabin-warmup, cold-drive, standby
-- reads:  session(session_id, procedure), soak(session_id, from_s, to_s), air(session_id, source_id, t_s, line, instrument, hold_s, c, u_c),
--         soak_air(session_id, instrument, preference, mean_c), protocol(ambient_band_k)
-- method: definition is ours
--
-- The longest time at a stretch that the air was more than the protocol's band above, or
-- below, its mean over the soak, by the instrument of view soak_air. Between two rows it
-- goes in a line; rows further apart than the instrument's hold are not joined, and end a
-- stretch. Precedent for asking how long, beside how far: 40 CFR 1066.710(b), where a test
-- cell may leave its narrower limits for no more than 3 min at a time. Uncertainty: each end
-- lies somewhere between two rows (rectangular, JCGM 100, 4.3.7), and where the air changes
-- slowly what the instrument is off by tells late: a quarter of its uncertainty, since the
-- rest is in row and mean alike (ours), over the slope there. The soak's own ends are sharp.
-- With no stretch it is the longest interval of rows, which may hide one.
-- There is no value where the mean has none.

with

pieces as (
    select
        a.session_id, c.mean_c, p.ambient_band_k as band_k, a.hold_s, a.u_c, a.t_s as t0, a.c as c0, k.from_s, k.to_s,
        lead(a.t_s) over w as t1,
        lead(a.c) over w as c1
    from air a
    join soak_air c on a.session_id = c.session_id and a.instrument = c.instrument
    join soak k on a.session_id = k.session_id
    cross join protocol p
    window w as (partition by a.session_id order by a.t_s, a.line, a.source_id)
),

-- How far each end of a piece lies beyond the band, above (way 1) and below (-1).
sides as materialized (
    select *, x.way * (c0 - mean_c) - band_k as d0, x.way * (c1 - mean_c) - band_k as d1
    from pieces cross join (values (1), (-1)) x (way)
    where t1 > t0 and t1 - t0 <= hold_s and t1 > from_s and t0 < to_s
),

beyond as (
    select
        session_id, way,
        greatest(case when d0 > 0 then t0 else t0 + d0 / (d0 - d1) * (t1 - t0) end, from_s) as a,
        least(case when d1 > 0 then t1 else t0 + d0 / (d0 - d1) * (t1 - t0) end, to_s) as b,
        case when d0 > 0 and t0 <= from_s then 0 when d0 > 0 then (t1 - t0) ** 2 / 12 else (t1 - t0) ** 2 / 12 + (u_c / 4 / (d1 - d0) * (t1 - t0)) ** 2 end as a_var,
        case when d1 > 0 and t1 >= to_s then 0 when d1 > 0 then (t1 - t0) ** 2 / 12 else (t1 - t0) ** 2 / 12 + (u_c / 4 / (d0 - d1) * (t1 - t0)) ** 2 end as b_var
    from sides
    where d0 > 0 or d1 > 0
),

-- Pieces of one stretch touch.
stretches as (
    select session_id, min(a) as a, max(b) as b, arg_min(a_var, a) + arg_max(b_var, b) as var
    from (
        select *, sum(case when a <= before_b + 1e-3 then 0 else 1 end) over (partition by session_id, way order by a, b) as run
        from (select *, lag(b) over (partition by session_id, way order by a, b) as before_b from beyond where b > a)
    )
    group by session_id, way, run
),

longest as (
    select * from stretches qualify row_number() over (partition by session_id order by b - a desc, a) = 1
),

intervals as (
    select session_id, max(t1 - t0) as interval_s, greatest(min(t0), any_value(from_s)) as a, least(max(t1), any_value(to_s)) as b from sides group by session_id
)

select
    s.session_id,
    case when c.mean_c is not null then coalesce(l.b - l.a, 0) end / 60 as value,
    case when c.mean_c is not null then case when l.b is null then i.interval_s / sqrt(12) else sqrt(l.var) end end / 60 as uncertainty,
    coalesce(l.a, i.a) as from_s,
    coalesce(l.b, i.b) as to_s,
    case when c.mean_c is null then 'none' when c.preference = 3 then 'fallback' else 'measured' end as status,
    case
        when k.from_s is null then 'nothing says when the soak began'
        when c.mean_c is null then 'no thermometer covers three quarters of the soak'
        else c.instrument
    end as note
from session s
left join soak k using (session_id)
left join soak_air c using (session_id)
left join intervals i using (session_id)
left join longest l using (session_id)
where s.procedure in ('cold-charge', 'cabin-warmup', 'cold-drive', 'standby')
order by s.session_id
