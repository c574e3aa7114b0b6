-- figure: standby_soc_loss
-- title:  Displayed charge lost per day while parked
-- unit:   %/d
-- better: lower
-- procedure: standby
-- reads:  session(session_id, procedure), parked(session_id, from_s, to_s, loss_pct_d, loss_u_pct_d, loss_noted, loss_reason)
-- method: definition is ours
--
-- The displayed charge at the start less that at the end, over the time between, as
-- the driver finds it: what the cold hid of it on the way is in it, which
-- standby_power takes out. Below 0 the display gained. Uncertainty: the last digit at
-- both ends. There is no value in less than 6 h, where the car was plugged in or
-- driven in between, or the display was not logged twice (view parked).

select
    s.session_id,
    p.loss_pct_d as value,
    p.loss_u_pct_d as uncertainty,
    case when p.loss_pct_d is not null then p.from_s end as from_s,
    case when p.loss_pct_d is not null then p.to_s end as to_s,
    case when p.loss_pct_d is null then 'none' when p.loss_noted then 'fallback' else 'measured' end as status,
    case when p.loss_pct_d is null then p.loss_reason when p.loss_noted then 'from notes' end as note
from session s
left join parked p using (session_id)
where s.procedure = 'standby'
order by s.session_id
