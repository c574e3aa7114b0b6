-- view:   pack_temp_near
-- title:  Pack temperatures around the plug-in and before the onset
-- reads:  plug_in(session_id, t_s, t_us), onset(session_id, t_s, t_us),
--         pack_temp(session_id, line, t_s, t_us, min_c, max_c, mean_c, mean_is, noted, u_c, u_step_c)
--
-- The rows within 120 s (the channels' hold) of the plug-in (moment plug-in), and in the
-- 120 s before the onset (moment onset).

select t.*, m.moment, m.t_s as moment_s
from (
    select session_id, 'plug-in' as moment, t_s, t_us - 120000000 as from_us, t_us + 120000000 as to_us from plug_in
    union all
    select session_id, 'onset', t_s, t_us - 120000000, t_us from onset where t_s is not null
) m
join pack_temp t on m.session_id = t.session_id and t.t_us >= m.from_us and t.t_us <= m.to_us
