-- view:   phase
-- title:  What a session consisted of
-- reads:  session(session_id, procedure), soak(session_id, from_s), plug_in(session_id, t_s),
--         delivered(session_id, t_s, last_s), unplugged(session_id, t_s, told), power_span(session_id, last_s), onset(session_id, status, t_s, t_us),
--         peak(session_id, end_s, taper_s), smooth(session_id, t_us, mean_kw, before_us, next_us), protocol(onset_kw, onset_sustained_s)
--
-- Phases of a charge, in their order, each with the rule that ended it:
-- * soak: from the start of the soak to the first plug-in;
-- * connect: from the first plug-in until the charger delivers 0.1 kW (ours) after
--   the plug-in that the charge came from; failed attempts are part of it. Where
--   no power at the inlet is known, until that plug-in;
-- * heating-only: until the onset; where there is none, until the log ends, and where it is
--   not known what the pack took, none;
-- * charging: while the pack takes energy; pause: less than onset_kw for at least
--   onset_sustained_s between the onset and the end of the charge;
-- * taper: charging after the last moment with 80 % of the peak (view peak);
-- * after: from the end of the charge until it is unplugged (view unplugged), or to the
--   end of the log.

with

marks as (
    select
        s.session_id, k.from_s as soak_s, p.t_s as plug_s, o.t_s as onset_s, o.t_us as onset_us, o.status, e.end_s,
        least(e.taper_s, e.end_s) as taper_s,
        d.t_s as delivered_s, coalesce(f.t_s, greatest(l.last_s, d.last_s)) as last_s, f.told, l.last_s is not null as known
    from session s
    left join soak k using (session_id)
    left join plug_in p using (session_id)
    left join onset o using (session_id)
    left join peak e using (session_id)
    left join delivered d using (session_id)
    left join power_span l using (session_id)
    left join unplugged f using (session_id)
    where s.procedure in ('cold-charge', 'warm-charge')
),

begun as (
    select *, least(greatest(coalesce(delivered_s, plug_s), plug_s), coalesce(onset_s, 'infinity'::double)) as heating_s from marks
),

low as (
    select s.session_id, s.t_us / 1e6 as t_s, s.before_us / 1e6 as before_s, coalesce(s.next_us, s.t_us) / 1e6 as next_s, p.onset_sustained_s
    from smooth s join begun b using (session_id) cross join protocol p
    where s.mean_kw < p.onset_kw and s.t_us >= b.onset_us and s.t_us < (b.end_s * 1000000)::bigint
),

-- Rows of one stretch follow each other in the log.
stretches as (
    select session_id, min(t_s) as from_s, max(next_s) as to_s
    from (
        select *, sum(case when last_s >= before_s then 0 else 1 end) over (partition by session_id order by t_s, next_s) as run
        from (select *, lag(t_s) over (partition by session_id order by t_s, next_s) as last_s from low)
    )
    group by session_id, run
    having max(next_s) - min(t_s) >= any_value(onset_sustained_s)
),

cuts as (
    select session_id, onset_s as t_s from begun where onset_s is not null
    union
    select session_id, taper_s from begun where taper_s > onset_s
    union
    select session_id, from_s from stretches
    union
    select session_id, to_s from stretches
    union
    select session_id, end_s from begun where onset_s is not null
),

parts as (
    select session_id, t_s as from_s, lead(t_s) over (partition by session_id order by t_s) as to_s from cuts
),

charged as (
    select
        p.session_id,
        case when x.session_id is not null then 'pause' when p.from_s >= b.taper_s then 'taper' else 'charging' end as phase,
        p.from_s, p.to_s, b.taper_s, b.end_s
    from parts p
    join begun b using (session_id)
    left join stretches x on p.session_id = x.session_id and p.from_s >= x.from_s and p.to_s <= x.to_s
    where p.to_s > p.from_s
),

listed as (
    select session_id, 'soak' as phase, soak_s as from_s, 0::double as to_s, 'the first plug-in' as rule, 1 as rank from begun where soak_s < 0
    union all
    select session_id, 'connect', 0, heating_s, case when delivered_s is null then 'the plug-in that held' else 'the charger delivered 0.1 kW' end, 2 from begun where heating_s > 0
    union all
    select
        session_id, 'heating-only', heating_s, coalesce(onset_s, last_s), case when onset_s is null then 'the log ended' else 'the pack took lasting energy' end, 3
    from begun
    where coalesce(onset_s, case when known then last_s end) > heating_s
    union all
    select
        session_id, phase, from_s, to_s,
        case
            when to_s = end_s then 'the power fell for good'
            when phase = 'pause' then 'the pack took energy again'
            when to_s = taper_s then 'the power stayed below 80 % of its peak'
            else 'the pack took no energy'
        end,
        4
    from charged
    union all
    select session_id, 'after', end_s, last_s, coalesce(told, 'the log ended'), 5 from begun where onset_s is not null and last_s > end_s
)

select session_id, row_number() over (partition by session_id order by rank, from_s) as n, phase, from_s, to_s, rule
from listed
order by session_id, n
