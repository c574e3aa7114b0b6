-- view:   power
-- title:  Net power into the pack, by the best source that a session has
-- reads:  reading(session_id, source_id, line, t_s, pack_voltage_v, pack_current_a, pack_power_kw, charger_power_kw,
--         heater_power_kw, accessory_power_kw), event(session_id, kind, t_s), source(source_id, kind, offset_u_s),
--         instrument(source_id, channel, resolution, u_rel, u_abs)
--
-- One basis a session, never two mixed, in this order:
-- 1  voltage times current of the pack, in one row;
-- 2  power of the pack, as logged;
-- 3  the charger's power less heater and accessories, each at most 60 s old.
--    The heater must be logged: a charger that delivers says nothing of a pack
--    that may receive nothing. Accessories that are not logged count as 0.3 kW
--    give or take 0.2 kW (common practice, no source). Each instrument's share
--    of its own reading is the uncertainty, since the small difference of two
--    large powers is not known to a share of itself. Between two rows of the
--    heater's its power goes in a line, with their difference as the width of a
--    rectangle (JCGM 100, 4.3.7), since it may have switched at any moment;
-- 4  the charger's power alone, once a person saw the charge begin: before that
--    moment nothing counts as charge; after it an unknown load of 0 to 8 kW is
--    taken out by its middle, 4 kW, with a standard uncertainty of 8/sqrt(12)
--    (rectangular, JCGM 100, 4.3.7; the range is ours).
-- Of several sources that give the same basis, the one with the most rows is
-- taken; notes only where there is no log. hold_s is how far apart two rows may
-- lie and still be joined: 60 s for logs (40 CFR 1066.710 asks for a row at
-- least that often), 15 min for notes, which people write when something moves.

with

heater as (
    select
        session_id, source_id, t_s, heater_power_kw,
        lead(t_s) over w as next_s,
        lead(heater_power_kw) over w as next_kw
    from reading
    where heater_power_kw is not null and t_s is not null
    window w as (partition by session_id, source_id order by t_s, line)
),

accessory as (
    select session_id, t_s, accessory_power_kw from reading where accessory_power_kw is not null and t_s is not null
),

-- Sessions whose car tells by itself need no charger, which saves the joins below.
told as (
    select r.session_id
    from reading r join source s using (source_id)
    where s.kind <> 'notes' and r.t_s >= -600 and (r.pack_voltage_v is not null and r.pack_current_a is not null or r.pack_power_kw is not null)
    group by r.session_id, r.source_id
    having count(pack_voltage_v * pack_current_a) >= 2 or count(pack_power_kw) >= 2
),

charger as (
    select session_id, source_id, line, t_s, charger_power_kw
    from reading
    where charger_power_kw is not null and t_s >= -600 and session_id not in (from told)
),

heated as (
    select
        c.*, h.t_s as heater_t_s, h.source_id as heater_source_id,
        case
            when h.next_s - h.t_s between 1e-6 and 60 then h.heater_power_kw + (h.next_kw - h.heater_power_kw) * (c.t_s - h.t_s) / (h.next_s - h.t_s)
            else h.heater_power_kw
        end as heater_power_kw,
        case when c.t_s > h.t_s then abs(coalesce(h.next_kw - h.heater_power_kw, 0)) / sqrt(12) else 0 end as u_between_kw
    from charger c asof join heater h on c.session_id = h.session_id and c.t_s >= h.t_s
),

less as (
    select d.*, a.accessory_power_kw, a.t_s as accessory_t_s
    from heated d asof left join accessory a on d.session_id = a.session_id and d.t_s >= a.t_s
),

seen as (
    select session_id, min(t_s) as seen_s from event where kind = 'onset-seen' group by session_id
),

candidates as (
    select session_id, source_id, line, t_s, pack_voltage_v * pack_current_a / 1000 as kw, 1 as basis, 0 as u_load_kw
    from reading
    where pack_voltage_v is not null and pack_current_a is not null and t_s >= -600
    union all
    select session_id, source_id, line, t_s, pack_power_kw, 2, 0
    from reading
    where pack_power_kw is not null and t_s >= -600
    union all
    select
        l.session_id, l.source_id, l.line, l.t_s,
        l.charger_power_kw - l.heater_power_kw
            - case when l.charger_power_kw < 0.1 then 0 when l.t_s - l.accessory_t_s <= 60 then l.accessory_power_kw else 0.3 end,
        3,
        sqrt(
            l.u_between_kw ** 2 + (coalesce(c.u_rel, 0.01) * l.charger_power_kw) ** 2 + (coalesce(h.u_rel, 0.02) * l.heater_power_kw) ** 2
            + case when l.t_s - l.accessory_t_s <= 60 or l.charger_power_kw < 0.1 then 0 else 0.2 end ** 2)
    from less l
    left join instrument c on l.source_id = c.source_id and c.channel = 'charger_power_kw'
    left join instrument h on l.heater_source_id = h.source_id and h.channel = 'heater_power_kw'
    where l.t_s - l.heater_t_s <= 60
    union all
    select c.session_id, c.source_id, c.line, c.t_s, case when c.t_s >= s.seen_s then greatest(c.charger_power_kw - 4, 0) else 0 end, 4, 8 / sqrt(12)
    from charger c join seen s using (session_id)
),

counted as (
    select c.session_id, c.source_id, c.basis, s.kind = 'notes' as noted, s.offset_u_s, count(*) as rows_held
    from candidates c join source s using (source_id)
    group by all
    having count(*) >= 2
),

chosen as (
    select distinct on (session_id) *
    from counted
    order by session_id, noted, basis, rows_held desc, source_id
),

accuracy as (
    select
        source_id,
        sqrt(sum(u_rel ** 2) filter (where channel in ('pack_voltage_v', 'pack_current_a'))) as u_rel_1,
        max(u_rel) filter (where channel = 'pack_power_kw') as u_rel_2,
        max(u_rel) filter (where channel = 'charger_power_kw') as u_rel_charger,
        max(coalesce(resolution, 0)) filter (where channel = 'pack_power_kw') as step_2,
        max(coalesce(resolution, 0)) filter (where channel = 'charger_power_kw') as step_charger
    from instrument
    group by source_id
)

select
    c.session_id, c.source_id, c.line, c.t_s, c.kw, c.basis, h.noted, h.offset_u_s,
    case when h.noted then 900 else 60 end as hold_s,
    coalesce(case c.basis when 1 then a.u_rel_1 when 2 then a.u_rel_2 when 3 then 0 else a.u_rel_charger end, 0) as u_rel,
    c.u_load_kw as u_abs_kw,
    coalesce(case c.basis when 1 then 0 when 2 then a.step_2 else a.step_charger end, 0) as step_kw,
    case c.basis
        when 1 then 'pack voltage times current'
        when 2 then 'pack power as logged'
        when 3 then 'charger less heater and accessories'
        else 'charger power, from when the charge was seen'
    end as basis_name
from candidates c
join chosen h on c.session_id = h.session_id and c.source_id = h.source_id and c.basis = h.basis
left join accuracy a on c.source_id = a.source_id
order by c.session_id, c.t_s, c.line
