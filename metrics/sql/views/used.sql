-- view:   used
-- title:  Energy that cabin, drive and standby took
-- reads:  outing(session_id, from_s, from_u_s, to_s, to_u_s), piece(session_id, quantity, t0, t1, kw0, kw1, bridged, u_abs_kw),
--         basis(session_id, quantity, basis, u_rel, step_kw, noted, offset_u_s, basis_name), shown_loss(session_id, kwh, u_kwh)
--
-- A row for every outing and each quantity that is known: pack, what the pack gave
-- net of what it got back, from its voltage and current or its power as logged;
-- heater, cabin, accessory. Trapezoids over each source's own rows, clipped to the
-- span. Time without rows (view offer says how far apart rows are joined) is filled by
-- the mean of the rest, with half of the power's standard deviation as the gap's
-- uncertainty (ours); where it is more than a quarter, there is no value.
-- Where the pack's power is not known, shown: what the display lost (view shown_loss).
-- Standard uncertainty, combined as in JCGM 100, 5.1.2. own_u_kwh: the instrument, the
-- last digit (step^2/12 in each row, but the same in all that show what the row before
-- did), the gaps, and the sampling, for which the trace itself says
-- how rough it is. Of power that keeps a share rho of its departure from the mean from
-- one row to the next, the squared second differences are 3 - rho times the squared
-- first ones, and the sum of trapezoids has the variance
-- sum((difference x time)^2) ((1 + rho)/(1 - rho) + 2/ln(rho)) / (2 (1 - rho)): a
-- twelfth for steps or a smooth trace, a half where rows know nothing of each other. It
-- is that of a first-order Markov process, whose spectrum repeats at the rows' rate.
-- u_kwh: with the power at the span's ends times the ends' uncertainty.

with

clipped as (
    select
        o.session_id, p.quantity, p.bridged, p.u_abs_kw, b.step_kw, p.kw0, p.kw1, p.t0, p.t1,
        greatest(p.t0, o.from_s) as a,
        least(p.t1, o.to_s) as b,
        lead(p.kw1) over w as kw2,
        lead(p.t0) over w as next_s,
        lead(p.bridged) over w as next_bridged
    from outing o
    join piece p on o.session_id = p.session_id and p.t1 > o.from_s and p.t0 < o.to_s
    join basis b on o.session_id = b.session_id and p.quantity = b.quantity
    where p.quantity in ('heater', 'cabin', 'accessory') or p.quantity = 'pack' and b.basis <= 2
    window w as (partition by o.session_id, p.quantity order by p.t0)
),

parts as (
    select
        session_id, quantity, bridged, a, b, t1, u_abs_kw, step_kw, kw1 - kw0 as change_kw,
        kw0 + (kw1 - kw0) * (a - t0) / (t1 - t0) as kwa,
        kw0 + (kw1 - kw0) * (b - t0) / (t1 - t0) as kwb,
        case when next_bridged and abs(next_s - t1) < 1e-3 then kw2 - 2 * kw1 + kw0 end as bend_kw
    from clipped
),

sums as (
    select
        session_id, quantity,
        fsum((kwa + kwb) / 2 * (b - a)) / 3600 as kwh,
        fsum(b - a) as bridged_s,
        fsum(u_abs_kw * (b - a)) / 3600 as load_kwh,
        fsum(case when change_kw <> 0 then (step_kw * (b - a)) ** 2 end) / 12 / 3600 ** 2 as digit_kwh2,
        fsum(case when change_kw = 0 then step_kw * (b - a) end) / sqrt(12) / 3600 as still_kwh,
        fsum((change_kw * (b - a)) ** 2) / 3600 ** 2 as change_kwh2,
        fsum(bend_kw ** 2) / nullif(fsum(case when bend_kw is not null then change_kw ** 2 end), 0) as bend,
        fsum((kwa ** 2 + kwa * kwb + kwb ** 2) / 3 * (b - a)) as kw2_s,
        arg_min(kwa, a) as from_kw,
        arg_max(kwb, b) as to_kw
    from parts
    where bridged
    group by session_id, quantity
),

spanned as (
    select
        o.session_id, s.quantity, o.from_s, o.to_s, o.from_u_s, o.to_u_s, s.*exclude (session_id, quantity),
        o.to_s - o.from_s as long_s,
        greatest(0.001, least(0.95, coalesce(3 - s.bend, 0.95))) as rho,
        b.u_rel, b.noted, b.offset_u_s, b.basis_name,
        sqrt(greatest(s.kw2_s / s.bridged_s - (s.kwh * 3600 / s.bridged_s) ** 2, 0)) as sd_kw
    from outing o join sums s using (session_id) join basis b on o.session_id = b.session_id and s.quantity = b.quantity
),

known as (
    select
        *,
        greatest(long_s - bridged_s, 0) as gap_s,
        case when quantity = 'pack' then -1 else 1 end * kwh * long_s / bridged_s as whole_kwh,
        (u_rel * kwh * long_s / bridged_s + load_kwh) ** 2 + coalesce(digit_kwh2, 0) + coalesce(still_kwh, 0) ** 2 + change_kwh2 * ((1 + rho) / (1 - rho) + 2 / ln(rho)) / (2 * (1 - rho))
            + (sd_kw * greatest(long_s - bridged_s, 0) / 3600 / 2) ** 2 as own_kwh2
    from spanned
    where bridged_s >= 0.75 * long_s
)

select
    -- In parallel the order of adding is not always the same; a microwatt hour is beyond any instrument.
    session_id, quantity, from_s, to_s, round(whole_kwh, 9) as kwh, sqrt(own_kwh2) as own_u_kwh,
    sqrt(own_kwh2 + (from_kw ** 2 * (from_u_s ** 2 + offset_u_s ** 2) + to_kw ** 2 * (to_u_s ** 2 + offset_u_s ** 2)) / 3600 ** 2) as u_kwh,
    case when quantity = 'pack' then -1 else 1 end * to_kw as to_kw, gap_s, noted as worse,
    case when gap_s > 60 then format('{}; {:.0f} s without rows are filled by the mean of the rest', basis_name, gap_s) else basis_name end as basis_name
from known
union all
select
    o.session_id, 'pack', o.from_s, o.to_s, l.kwh, l.u_kwh, l.u_kwh, l.kwh / (o.to_s - o.from_s) * 3600, 0, true,
    'steps of the displayed charge times the usable energy'
from outing o join shown_loss l using (session_id)
where l.kwh is not null and o.session_id not in (select k.session_id from known k where k.quantity = 'pack')
