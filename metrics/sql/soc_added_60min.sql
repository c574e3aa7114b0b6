-- figure: soc_added_60min
-- title:  Charge shown as added in 60 min
-- unit:   %
-- better: higher
-- procedure: cold-charge, warm-charge
-- reads:  session(session_id, procedure), soc_mark(session_id, mark, from_s, to_s, gain_pct, u_pct, status, note)
-- method: definition is ours
--
-- What the display gained in the first 60 minutes after the plug-in that led to the
-- charge (view soc_mark). A reserve that the cold had locked and warmth released
-- is in it, with no energy behind it. Uncertainty: a step of the display at each
-- end, and what it rose between the rows around the mark, rectangular (JCGM 100,
-- 4.3.7).

select s.session_id, m.gain_pct as value, m.u_pct as uncertainty, m.from_s, m.to_s, m.status, m.note
from session s
join soc_mark m on s.session_id = m.session_id and m.mark = '60min'
where s.procedure in ('cold-charge', 'warm-charge')
order by s.session_id
