-- view:   soc_mark
-- title:  What the display gained by each mark after the plug-in
-- reads:  plug_in(session_id, u_s), unplugged(session_id, t_s, told), at_plug_in(session_id, plug_s, soc_pct, soc_u_pct, soc_told), charge_level(session_id, t_s, soc_pct, next_s, next_pct, step_pct, told)
--
-- The displayed charge at each mark less that at the plug-in. Between the last
-- row before the mark, not older than 600 s (the channel's hold), and the first
-- after it the display is taken to rise evenly, with what it rose as the width of
-- a rectangle (JCGM 100, 4.3.7); the pace of the two minutes around the mark
-- carries the uncertainty of the plug-in's moment. What the cold had locked and warmth released is
-- in it: that is what the driver sees. status and note are as figures give them:
-- none with the reason where the display was not logged, or its log ends before
-- the mark. Where the cable was pulled before the mark (view unplugged), it is what was gained
-- by then, to 60 s (ours), and the note says so.

with

marks (mark, length_s) as (
    values ('5min', 300), ('10min', 600), ('15min', 900), ('20min', 1200), ('30min', 1800), ('45min', 2700), ('60min', 3600)
),

ends as (
    select session_id, max(t_s) as last_s from charge_level group by session_id
),

wanted as (
    select a.session_id, m.mark, a.plug_s, p.u_s, least(a.plug_s + m.length_s, f.t_s) as mark_s, a.soc_pct as start_pct, a.soc_u_pct, a.soc_told, e.last_s,
        case when f.t_s < a.plug_s + m.length_s then format('{} {:.0f} s after the plug-in', f.told, f.t_s - a.plug_s) end as pulled
    from at_plug_in a cross join marks m join plug_in p using (session_id) left join ends e using (session_id) left join unplugged f using (session_id)
),

reached as (
    select
        w.*, c.t_s, c.step_pct, c.told,
        case when c.next_s > c.t_s then c.soc_pct + (c.next_pct - c.soc_pct) * (w.mark_s - c.t_s) / (c.next_s - c.t_s) else c.soc_pct end as soc_pct,
        case when w.mark_s > c.t_s then coalesce(c.next_pct - c.soc_pct, 0) else 0 end as rise_pct
    from wanted w asof left join charge_level c on w.session_id = c.session_id and w.mark_s >= c.t_s
),

paced as (
    select r.*, (coalesce(l.soc_pct, r.soc_pct) - coalesce(b.soc_pct, r.soc_pct)) / 120 as pct_per_s
    from reached r
    asof left join charge_level b on r.session_id = b.session_id and r.mark_s - 60 >= b.t_s
    asof left join charge_level l on r.session_id = l.session_id and r.mark_s + 60 >= l.t_s
),

judged as (
    select
        *,
        case
            when start_pct is null then 'no displayed charge near the plug-in'
            when last_s < mark_s - case when pulled is not null then 60 else 0 end then format('the display''s log ends {:.0f} s after the plug-in', last_s - plug_s)
            when mark_s - t_s > 600 then 'no displayed charge near the mark'
        end as reason
    from paced
)

select
    session_id, mark, plug_s as from_s, mark_s as to_s,
    case when reason is null then soc_pct - start_pct end as gain_pct,
    case when reason is null then sqrt(soc_u_pct ** 2 + (step_pct ** 2 + rise_pct ** 2) / 12 + (pct_per_s * u_s) ** 2) end as u_pct,
    case when reason is not null then 'none' when coalesce(told, soc_told) is not null then 'fallback' else 'measured' end as status,
    case when reason is not null then reason else coalesce(coalesce(told, soc_told) || '; ' || pulled, pulled, told, soc_told) end as note
from judged
order by session_id, mark
