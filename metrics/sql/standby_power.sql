-- figure: standby_power
-- title:  Mean power while parked
-- unit:   W
-- better: lower
-- procedure: standby
-- reads:  session(session_id, procedure), parked(session_id, from_s, to_s, kw, u_kw, worse, basis_name, power_reason)
-- method: definition is ours
--
-- What the pack gave while the car stood, over the time: the mean. From the pack's
-- voltage and current or its power as logged; else, as a fallback, from what the display
-- lost times the usable energy, less what the cold hid of it (views used and
-- shown_loss). A logger that keeps the car awake is in it. There is no value in less
-- than 6 h, where the car was plugged in or driven in between, or none of them is known.

select
    s.session_id,
    p.kw * 1000 as value,
    p.u_kw * 1000 as uncertainty,
    case when p.kw is not null then p.from_s end as from_s,
    case when p.kw is not null then p.to_s end as to_s,
    case when p.kw is null then 'none' when p.worse then 'fallback' else 'measured' end as status,
    case when p.kw is null then p.power_reason else p.basis_name end as note
from session s
left join parked p using (session_id)
where s.procedure = 'standby'
order by s.session_id
