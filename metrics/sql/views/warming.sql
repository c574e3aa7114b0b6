-- view:   warming
-- title:  The pack at the plug-in and at the onset
-- reads:  plug_in(session_id, t_s, u_s), onset(session_id, t_s), pack_temp(session_id, line, t_s, min_c, max_c, mean_c, mean_is, noted, u_c, u_step_c)
--
-- The last temperatures before each moment, not older than 120 s (the channel's
-- hold); apart_s is the time between the two rows, off_s by how much
-- they miss the two moments. A row for each session that
-- has both.

with

at_plug as (
    select p.session_id, p.t_s as plug_s, p.u_s as u_plug_s, x.t_s, x.min_c, x.mean_c, x.mean_is, x.noted, x.u_c, x.u_step_c
    from plug_in p join pack_temp x on p.session_id = x.session_id
    where x.t_s between p.t_s - 120 and p.t_s
    qualify row_number() over (partition by p.session_id order by x.t_s desc, x.line desc) = 1
),

at_onset as (
    select o.session_id, o.t_s as onset_s, x.t_s, x.min_c, x.max_c, x.mean_c
    from onset o join pack_temp x on o.session_id = x.session_id
    where x.t_s between o.t_s - 120 and o.t_s
    qualify row_number() over (partition by o.session_id order by x.t_s desc, x.line desc) = 1
)

select
    a.session_id, a.plug_s, b.onset_s, a.min_c as plug_min_c, b.min_c as onset_min_c, b.max_c as onset_max_c,
    a.mean_c as plug_mean_c, b.mean_c as onset_mean_c, a.mean_is, a.noted, a.u_c, a.u_step_c, b.t_s - a.t_s as apart_s, a.u_plug_s, a.plug_s - a.t_s + b.onset_s - b.t_s as off_s
from at_plug a join at_onset b using (session_id)
order by a.session_id
