-- figure: warming_rate
-- title:  Pack warming before charge
-- unit:   K/h
-- better: higher
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), onset(session_id, t_s), warming(session_id, plug_s, onset_s, plug_min_c, onset_min_c, apart_s, off_s, u_plug_s, noted, u_step_c)
-- method: definition is ours
--
-- How fast the coldest pack sensor rose from its last row before the plug-in to its
-- last row before the onset. The sensor's own error is in both ends and cancels; a step of the log at each end does not,
-- and neither does what it may have risen between its rows and the two moments,
-- a rectangle of that half width (JCGM 100, 4.3.7), nor the plug-in's own moment.
-- There is no value for less than 5 min of heating (ours: a step would be most of
-- it), and none where the coldest sensor was not logged at both ends.

select
    s.session_id,
    case when w.apart_s >= 300 then (w.onset_min_c - w.plug_min_c) / w.apart_s * 3600 end as value,
    case when w.apart_s >= 300 and w.onset_min_c - w.plug_min_c is not null then
        sqrt(2 * w.u_step_c ** 2 + ((w.onset_min_c - w.plug_min_c) / w.apart_s) ** 2 * (w.off_s ** 2 / 3 + w.u_plug_s ** 2)) / w.apart_s * 3600
    end as uncertainty,
    w.plug_s as from_s,
    w.onset_s as to_s,
    case when w.onset_min_c - w.plug_min_c is null or w.apart_s < 300 then 'none' when w.noted then 'fallback' else 'measured' end as status,
    case
        when o.t_s is null then 'no onset was found'
        when w.onset_min_c - w.plug_min_c is null then 'the coldest sensor was not logged at plug-in and onset'
        when w.apart_s < 300 then 'heated for less than 5 min'
        when w.noted then 'from notes'
    end as note
from session s
left join onset o using (session_id)
left join warming w using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
