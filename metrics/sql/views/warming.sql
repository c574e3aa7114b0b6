-- view:   warming
-- title:  The pack at the plug-in and at the onset
-- reads:  plug_in(session_id, u_s), pack_temp_near(session_id, moment, moment_s, line, t_s, min_c, max_c, mean_c, mean_is, noted, u_c, u_step_c)
--
-- The last temperatures before each moment, not older than 120 s (the channel's
-- hold); apart_s is the time between the two rows, off_s by how much
-- they miss the two moments. A row for each session that
-- has both.

with

last_rows as (
    select *
    from pack_temp_near
    where t_s <= moment_s
    qualify row_number() over (partition by session_id, moment order by t_s desc, line desc) = 1
),

at_plug as (
    select x.*, x.moment_s as plug_s, p.u_s as u_plug_s from last_rows x join plug_in p using (session_id) where x.moment = 'plug-in'
),

at_onset as (
    select *, moment_s as onset_s from last_rows where moment = 'onset'
)

select
    a.session_id, a.plug_s, b.onset_s, a.min_c as plug_min_c, b.min_c as onset_min_c, b.max_c as onset_max_c,
    a.mean_c as plug_mean_c, b.mean_c as onset_mean_c, a.mean_is, a.noted, a.u_c, a.u_step_c, b.t_s - a.t_s as apart_s, a.u_plug_s, a.plug_s - a.t_s + b.onset_s - b.t_s as off_s
from at_plug a join at_onset b using (session_id)
order by a.session_id
