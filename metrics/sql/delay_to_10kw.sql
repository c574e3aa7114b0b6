-- figure: delay_to_10kw
-- title:  Plug-in to 10 kW
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), plug_in(session_id, t_s, u_s), charged(session_id, t_us, mean_kw, at_s, at_u_s), onset(session_id, status, to_s, cut),
--         power_span(session_id, last_s), basis(session_id, quantity, worse, noted, basis_name)
-- method: definition is ours
--
-- From the plug-in that led to the charge to the first mean over 10 s (view smooth) of
-- at least 10 kW into the pack, once the charge has begun: a charge worth waiting
-- for (ours). It lies after the row before and not before the onset; where the
-- row at the onset is as high it is the onset (view charged, with its uncertainty).
-- Half of the 10 s and the moment of the plug-in come to that. A charge that never got
-- there is longer than its log: status beyond. Where the log breaks off as the charge may
-- have begun, it is longer than up to there (view onset). There is no value where power
-- into the pack is not known.

with

reached as (
    select session_id, min(t_us) / 1e6 as t_s, arg_min(at_s, (t_us, at_s)) as at_s, arg_min(at_u_s, (t_us, at_s)) as at_u_s
    from charged
    where mean_kw >= 10
    group by session_id
),

sources as (
    select b.session_id, b.worse, b.noted, b.basis_name, l.last_s, o.cut, o.status = 'beyond' as waited, case when o.cut then o.to_s else l.last_s end as until_s
    from basis b join power_span l using (session_id) left join onset o using (session_id)
    where b.quantity = 'pack'
)

select
    s.session_id,
    case when r.t_s is not null then r.at_s - i.t_s when k.until_s > i.t_s then k.until_s - i.t_s end / 60 as value,
    sqrt(r.at_u_s ** 2 + 5 ** 2 / 3 + i.u_s ** 2) / 60 as uncertainty,
    i.t_s as from_s,
    coalesce(r.t_s, k.until_s) as to_s,
    case
        when r.t_s is not null then case when k.worse then 'fallback' else 'measured' end
        when k.until_s > i.t_s then 'beyond'
        else 'none'
    end as status,
    case
        when r.t_s is not null then k.basis_name
        when k.last_s is null then 'power into the pack is not known'
        when k.cut then 'the log breaks off where the pack takes energy, before that lasts'
        when k.waited and k.last_s > i.t_s then 'the pack had taken no lasting energy when the log ended'
        when k.last_s > i.t_s then 'the pack had not taken 10 kW when the ' || case when k.noted then 'last power was noted' else 'log ended' end
        else 'no power was ' || case when k.noted then 'noted' else 'logged' end || ' after the plug-in'
    end as note
from session s
left join plug_in i using (session_id)
left join reached r using (session_id)
left join sources k using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
