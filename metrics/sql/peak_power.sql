-- figure: peak_power
-- title:  Peak power into the pack
-- unit:   kW
-- better: higher
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), peak(session_id, peak_kw, peak_u_kw, peak_s, plug_s, worse, basis_name),
--         limited(session_id, from_s, to_s, held_by)
-- method: definition is ours
--
-- The highest mean over 10 s of the net power into the pack after the plug-in; of a
-- log with longer intervals, the highest row (views smooth and peak, with the
-- uncertainty). Where the charger held the power at the time (view limited), the
-- note says so: the car might have taken more. There is no value where power into
-- the pack is not known.

select
    s.session_id,
    p.peak_kw as value,
    p.peak_u_kw as uncertainty,
    greatest(p.peak_s - 9.5, p.plug_s) as from_s,
    p.peak_s as to_s,
    case when p.peak_kw is null then 'none' when p.worse then 'fallback' else 'measured' end as status,
    case
        when p.peak_kw is null then 'power into the pack is not known'
        when l.held_by is not null then format('{}; the charger was the limit, at {}', p.basis_name, l.held_by)
        else p.basis_name
    end as note
from session s
left join peak p using (session_id)
left join (
    select l.session_id, arg_min(l.held_by, l.from_s) as held_by from limited l join peak p using (session_id) where p.peak_s between l.from_s and l.to_s + 9.5 group by l.session_id
) l using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
