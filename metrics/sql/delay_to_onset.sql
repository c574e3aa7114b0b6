-- figure: delay_to_onset
-- title:  Plug-in to charge
-- unit:   min
-- better: lower
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), onset(session_id, status, from_s, to_s, t_s, u_s, basis_name, worse, dropouts, cut),
--         plug_in(session_id, t_s, u_s, again, guessed)
-- method: definition is ours
--
-- From the plug-in that led to the charge (view plug_in) to the onset: net power into
-- the pack that lasts (view onset). Power from the charger is not enough, since it
-- may all go into heaters; a display that gains a percent is not enough, since the
-- cold had only hidden it.
-- A charge that had not started when its log ended, or broke off as it may have
-- started, is longer than that: status beyond, and never ranked. There is no value where nothing tells power into the
-- pack. Published limits of the connecting steps (ISO 15118-2: seconds) lie within
-- it; no published definition of the whole was found.
-- Uncertainty: the interval in which the onset lies, rectangular; the clock of its
-- source; the moment of the plug-in.

select
    s.session_id,
    case o.status when 'beyond' then greatest(o.to_s - p.t_s, 0) else o.t_s - p.t_s end / 60 as value,
    case when o.t_s is not null then sqrt(o.u_s ** 2 + p.u_s ** 2) / 60 end as uncertainty,
    p.t_s as from_s,
    o.to_s,
    case
        when o.status = 'beyond' then 'beyond'
        when o.t_s is null then 'none'
        when o.worse or p.guessed then 'fallback'
        else 'measured'
    end as status,
    case
        when o.cut then 'the log breaks off where the pack takes energy, before that lasts'
        when o.status = 'beyond' then 'the pack had taken no lasting energy when the log ended'
        when o.t_s is null then 'nothing tells when energy went into the pack'
        when p.guessed then o.basis_name || '; the plug-in after the failed one was not noted and lies between'
        when p.again then o.basis_name || '; from the plug-in after a failed one'
        else o.basis_name
    end || case
        when o.dropouts = 1 then '; a single row without power is taken for a dropout'
        when o.dropouts > 1 then format('; {} single rows without power are taken for dropouts', o.dropouts)
        else ''
    end as note
from session s
left join onset o using (session_id)
left join plug_in p using (session_id)
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
