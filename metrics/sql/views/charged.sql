-- view:   charged
-- title:  When power into the pack, once the charge had begun, became what each row tells
-- made:   in place
-- reads:  smooth(session_id, t_us, mean_kw, before_us), onset(session_id, t_s, t_us, to_s, u_s), basis(session_id, quantity, offset_u_s)
--
-- The rows of the view smooth from the onset on. What one tells came after the row before and not
-- before the onset: at_s is the middle, and at_u_s a rectangular distribution (JCGM 100,
-- 4.3.7) with the clock of the source. Where the row before lies before the onset, what
-- tells of the onset itself has the onset's time and its uncertainty, and any later row
-- lies between the onset and itself, the onset's own uncertainty with it: between
-- notes the row before may be half an hour older than the charge.

select
    s.session_id, s.t_us, s.mean_kw,
    case
        when s.before_us >= o.t_us then (s.before_us + s.t_us) / 2e6
        when s.t_us / 1e6 <= o.to_s then o.t_s
        else (o.t_s + s.t_us / 1e6) / 2
    end as at_s,
    case
        when s.before_us >= o.t_us then sqrt(((s.t_us - s.before_us) / 1e6) ** 2 / 12 + b.offset_u_s ** 2)
        when s.t_us / 1e6 <= o.to_s then o.u_s
        else sqrt((s.t_us / 1e6 - o.t_s) ** 2 / 12 + o.u_s ** 2 + b.offset_u_s ** 2)
    end as at_u_s
from smooth s
join onset o using (session_id)
join basis b on s.session_id = b.session_id and b.quantity = 'pack'
where s.t_us >= o.t_us
