-- view:   cut_short
-- title:  What stopped being logged while the charge still ran
-- reads:  basis(session_id, quantity, hold_s, to_s, offset_u_s), peak(session_id, end_s)
--
-- A row for each session and quantity whose source has its last row before the end of
-- the charge that the pack's source tells of (view peak), by more than its hold and
-- twice the uncertainty of both clocks: what came after that is not known, and a sum
-- to the last row is the least that it was. short_s is by how much.

select b.session_id, b.quantity, p.end_s - b.to_s as short_s, format('its log ends {:.0f} min before the charge did', (p.end_s - b.to_s) / 60) as note
from basis b
join peak p on b.session_id = p.session_id
join basis k on b.session_id = k.session_id and k.quantity = 'pack'
where b.quantity <> 'pack' and p.end_s - b.to_s > b.hold_s + 2 * sqrt(b.offset_u_s ** 2 + k.offset_u_s ** 2)
