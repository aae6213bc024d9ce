"""Deliberate damage to a plan, one kind a function, for tests that the audit names it.

Each function takes a network and a schedule that keeps all its rules, and returns a damaged
schedule with the id of the rule it now breaks; or None where the network has no such rule, or
the schedule nothing to damage that way. Other rules may break too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import timedelta

from scheduler.network.kind import Kind
from scheduler.network.model import LinkType, Network, Space
from scheduler.schedule import Schedule, Visit
from tests.damaging import Damaged, moved, start_at


def swap_two_activities(network: Network, schedule: Schedule) -> Damaged | None:
    """Put the second of two linked activities first."""
    for link in network.links:
        both = network.by_id[link.before].work > 0 and network.by_id[link.after].work > 0
        if both and link.type is LinkType.FS and link.lag >= 0 and not link.at_most:
            starts = {link.after: schedule.dates[link.before][0], link.before: schedule.dates[link.after][0]}
            return start_at(network, schedule, starts), link.id
    return None


def cover_before_release(network: Network, schedule: Schedule) -> Damaged | None:
    """Cover a stretch as its look ends, one tick too soon."""
    for hold in network.holds:
        for gate in hold.gates:
            if network.by_id[gate].kind.covers and network.by_id[hold.look].kind is Kind.INSPECT:
                return start_at(network, schedule, {gate: schedule.dates[hold.look][1] - 1}), hold.id
    return None


def main_covered_before_branch(network: Network, schedule: Schedule) -> Damaged | None:
    """Cover a main where a branch joins it one tick before the branch is laid."""
    for link in network.links:
        before, after = network.by_id[link.before], network.by_id[link.after]
        apart = before.reach and after.reach and before.reach != after.reach
        if before.kind in (Kind.LAY, Kind.JOIN) and after.kind.buries and apart:
            return start_at(network, schedule, {after.id: schedule.dates[before.id][1] - 1}), link.id
    return None


def covered_before_the_line_is_tested(network: Network, schedule: Schedule) -> Damaged | None:
    """Cover a part of a line that is tested over several reaches one tick before the test is over."""
    for link in network.links:
        before, after = network.by_id[link.before], network.by_id[link.after]
        if before.kind is Kind.TEST and not before.reach and after.kind.buries:
            return start_at(network, schedule, {after.id: schedule.dates[before.id][1] - 1}), link.id
    return None


def riser_before_its_pole(network: Network, schedule: Schedule) -> Damaged | None:
    """Set a riser one tick before others have set its pole."""
    for link in network.links:
        if network.by_id[link.before].kind.is_outside_work and network.by_id[link.after].kind is Kind.SET:
            return start_at(network, schedule, {link.after: schedule.dates[link.before][1] - 1}), link.id
    return None


def live_before_cover(network: Network, schedule: Schedule) -> Damaged | None:
    """Energise a service one tick before its loose end is covered."""
    for link in network.links:
        before, after = network.by_id[link.before], network.by_id[link.after]
        if before.kind is Kind.FILL and after.kind.is_outside_work and "lies bare" in link.because:
            return start_at(network, schedule, {after.id: schedule.dates[before.id][1] - 1}), link.id
    return None


def fill_kept_open_early(network: Network, schedule: Schedule) -> Damaged | None:
    """Fill a stretch that stays open for others before they have come."""
    for hold in network.holds:
        if network.by_id[hold.look].kind.is_outside_work and hold.gates:
            return start_at(network, schedule, {hold.gates[0]: schedule.dates[hold.look][1] - 1}), hold.id
    return None


def site_step_not_awaited(network: Network, schedule: Schedule) -> Damaged | None:
    """Begin what waits for own work, or for work that every site has, together with it."""
    for link in network.links:
        if network.by_id[link.before].kind in (Kind.SITE, Kind.CHECK) and link.keeps_apart:
            return start_at(network, schedule, {link.after: schedule.dates[link.before][0]}), link.id
    return None


def wait_cut_short(network: Network, schedule: Schedule) -> Damaged | None:
    """Go on one tick before what cures, lies or is held has had its time."""
    for link in network.links:
        if link.keeps_apart and link.lag > 0 and link.lag_calendar is None:
            early = schedule.dates[link.before][1] + link.lag - 1
            return start_at(network, schedule, {link.after: early}), link.id
    return None


def own_hold_not_awaited(network: Network, schedule: Schedule) -> Damaged | None:
    """Go on before a step of own work that holds what follows is over."""
    for hold in network.holds:
        if network.by_id[hold.look].kind is Kind.CHECK and hold.gates:
            return start_at(network, schedule, {hold.gates[0]: schedule.dates[hold.look][1] - 1}), hold.id
    return None


def trade_on_closed_day(network: Network, schedule: Schedule) -> Damaged | None:
    """Send a trade to work at nine on a day on which it does not work."""
    day = network.clock.when(network.data_date).date()
    while network.clock.midnight(day + timedelta(days=1)) <= network.horizon:
        nine = network.clock.midnight(day) + network.clock.ticks(hours=9)
        day += timedelta(days=1)
        for a in network.activities:
            closed = not network.calendars[a.calendar].open_ticks(nine, network.clock.midnight(day))
            if a.work and a.trade and nine > network.data_date and closed:
                return moved(schedule, {a.id: (nine, nine + a.work)}), f"calendar/{a.id}"
    return None


def begun_for_minutes(network: Network, schedule: Schedule) -> Damaged | None:
    """Begin long work one tick before its hours close."""
    for a in network.activities:
        calendar = network.calendars[a.calendar]
        for _, end in calendar.windows:
            if a.work > a.least_start > 1 and end - 1 >= network.data_date:
                finish = calendar.advance(end - 1, a.work)
                if finish is not None:
                    return moved(schedule, {a.id: (end - 1, finish)}), f"least start/{a.id}"
    return None


def closed_at_forbidden_hour(network: Network, schedule: Schedule) -> Damaged | None:
    """Work in a narrower place's closed hours, on a day and at an hour that others work."""
    for a in network.activities:
        calendar = network.calendars[a.calendar]
        for start, end in calendar.windows:
            for other in network.calendars.values():
                window = other.window_at(end)
                if a.work and window and start >= network.data_date and window[0] <= start and end < window[1]:
                    return moved(schedule, {a.id: (end, end + a.work)}), f"calendar/{a.id}"
    return None


def work_in_its_season(network: Network, schedule: Schedule) -> Damaged | None:
    """Do work in the days of a season that stops it, at an hour at which it is done on other days."""
    for a in network.activities:
        calendar = network.calendars[a.calendar]
        for begins, ends in calendar.barred:
            for start, _ in calendar.windows:
                hour = start - network.clock.midnight(network.clock.when(start).date())
                at = network.clock.midnight(network.clock.when(max(begins, network.data_date)).date()) + hour
                if a.work and begins <= at and network.data_date <= at and at + a.work <= ends:
                    return moved(schedule, {a.id: (at, at + a.work)}), f"calendar/{a.id}"
    return None


def _visits_with(schedule: Schedule, old: Visit, *new: Visit) -> Schedule:
    return replace(schedule, visits=(*(v for v in schedule.visits if v.id != old.id), *new))


def visit_outside_its_window(network: Network, schedule: Schedule) -> Damaged | None:
    """Begin a visit, with all its looks, when the inspector's hours end."""
    rules = {r.id: r for r in network.visit_rules}
    for visit in schedule.visits:
        window = network.calendars[rules[visit.rule].calendar].window_at(visit.start)
        if window:
            late = window[1] - visit.start
            spans = {look: (schedule.dates[look][0] + late, schedule.dates[look][1] + late) for look in visit.looks}
            later = replace(visit, start=visit.start + late, finish=visit.finish + late)
            return _visits_with(moved(schedule, spans), visit, later), visit.rule
    return None


def look_without_visit(network: Network, schedule: Schedule) -> Damaged | None:
    """Forget a look when the visit is booked."""
    for visit in schedule.visits:
        return _visits_with(schedule, visit, replace(visit, looks=visit.looks[1:])), visit.rule
    return None


def visit_split_in_two(network: Network, schedule: Schedule) -> Damaged | None:
    """Book two visits where one is enough."""
    for visit in schedule.visits:
        if len(visit.looks) > 1:
            parts = (replace(visit, looks=visit.looks[:1]), replace(visit, id="part two", looks=visit.looks[1:]))
            return _visits_with(schedule, visit, *parts), visit.rule
    return None


def visit_too_full(network: Network, schedule: Schedule) -> Damaged | None:
    """Ask an inspector to see everything in one visit."""
    for rule in network.visit_rules:
        visits = [v for v in schedule.visits if v.rule == rule.id]
        too_many = rule.max_looks is not None and len(rule.looks) > rule.max_looks
        too_long = rule.max_ft is not None and sum(rule.look_ft.get(i, 0.0) for i in rule.looks) > rule.max_ft
        if visits and (too_many or too_long):
            rest = tuple(v for v in schedule.visits if v.rule != rule.id)
            return replace(schedule, visits=(*rest, replace(visits[0], looks=rule.looks))), rule.id
    return None


def _pairs(network: Network, space: Space, *, machine: bool) -> Iterator[tuple[str, str]]:
    """Pairs of different groups in a space, with or without a machine in it, that both take time."""
    busy = [(a, g) for a, g in space.occupants if network.by_id[a].work]
    for i, (a, group) in enumerate(busy):
        for b, other in busy[i + 1 :]:
            if a != b and group != other and machine == ("machine" in (group, other)):
                yield a, b


def _together(network: Network, schedule: Schedule, *, machine: bool) -> Damaged | None:
    for space in network.spaces:
        for a, b in _pairs(network, space, machine=machine):
            return start_at(network, schedule, {b: schedule.dates[a][0]}), space.id
    return None


def two_trades_in_one_reach(network: Network, schedule: Schedule) -> Damaged | None:
    """Send two trades into one reach at once."""
    return _together(network, schedule, machine=False)


def people_beside_the_machine(network: Network, schedule: Schedule) -> Damaged | None:
    """Send people into the swing of a machine at work."""
    return _together(network, schedule, machine=True)


def prove_beside_the_machine(network: Network, schedule: Schedule) -> Damaged | None:
    """Send people to the end of a run while the machine works within its swing of it."""
    for space in (s for s in network.spaces if not s.reach):
        for a, b in _pairs(network, space, machine=True):
            return start_at(network, schedule, {a: schedule.dates[b][0]}), space.id
    return None


def double_booked_crew(network: Network, schedule: Schedule) -> Damaged | None:
    """Start, all at once, one activity more than there are crews or machines for."""
    for resource in network.resources:
        chosen, units = [], 0
        for a in network.activities:
            need = dict(a.needs).get(resource.id, 0)
            if a.work and need and units <= resource.capacity:
                chosen.append(a.id)
                units += need
        if units > resource.capacity:
            tick = schedule.dates[chosen[0]][0]
            return start_at(network, schedule, dict.fromkeys(chosen, tick)), resource.id
    return None


def dig_after_expiry(network: Network, schedule: Schedule) -> Damaged | None:
    """Start a dig when the last life of its locate ticket ends."""
    for ticket in network.tickets:
        expiries = [ticket.expiry, *(r.expiry for r in ticket.renewals if r.id in schedule.renewals)]
        for dig in ticket.digs:
            return start_at(network, schedule, {dig: max(expiries)}), ticket.id
    return None


def dig_before_clear(network: Network, schedule: Schedule) -> Damaged | None:
    """Start a dig just before all owners have answered."""
    for ticket in network.tickets:
        for dig in ticket.digs:
            return start_at(network, schedule, {dig: ticket.clear - 1}), ticket.id
    return None


def renewal_forgotten(network: Network, schedule: Schedule) -> Damaged | None:
    """Leave out the renewal that a late dig needs."""
    for ticket in network.tickets:
        used = [r for r in ticket.renewals if r.id in schedule.renewals]
        if used:
            before = used[-2].expiry if len(used) > 1 else ticket.expiry
            kept = tuple(r for r in schedule.renewals if r != used[-1].id)
            if any(schedule.dates[dig][1] > before for dig in ticket.digs):
                return replace(schedule, renewals=kept), ticket.id
    return None


def notice_broken(network: Network, schedule: Schedule) -> Damaged | None:
    """Start something before the earliest date that its notice allows."""
    for rule in network.dates:
        if rule.sense == "min" and rule.edge == "start":
            return start_at(network, schedule, {rule.activity: rule.at - 1}), rule.id
    return None


def too_much_trench_open(network: Network, schedule: Schedule) -> Damaged | None:
    """Dig everything at once."""
    openings = {o.id: o for o in network.openings}
    for limit in network.open_limits:
        if sum(amount for _, amount in limit.amounts) > limit.capacity:
            digs = [openings[o].opens for o, _ in limit.amounts]
            first = min(schedule.dates[d][0] for d in digs)
            return start_at(network, schedule, dict.fromkeys(digs, first)), limit.id
    return None


def open_when_it_may_not(network: Network, schedule: Schedule) -> Damaged | None:
    """Leave a stretch unfilled until a time at which it may not stand open has begun."""
    for shut in network.kept_shut:
        if not network.by_id[shut.opens].happened:
            begins, _ = next(network.calendars[shut.times].windows_from(schedule.dates[shut.opens][0]), (None, None))
            if begins is not None:
                begins = max(begins, schedule.dates[shut.opens][0])
                return moved(schedule, {shut.closes: (begins, begins + network.by_id[shut.closes].work)}), shut.id
            first, _ = network.calendars[shut.times].windows[0]
            work = network.by_id[shut.opens].work
            if first - work >= network.data_date:  # dug after it: dig before it, and fill as planned
                return moved(schedule, {shut.opens: (first - work, first)}), shut.id
    return None


def people_in_the_swing_of_the_dig(network: Network, schedule: Schedule) -> Damaged | None:
    """Bed or lay from the very start of the dig on, though it should keep its distance."""
    for rule in network.kept_behind:
        if network.by_id[rule.before].work > 1 and rule.after_from_ft >= rule.before_from_ft:
            return start_at(network, schedule, {rule.after: schedule.dates[rule.before][0]}), rule.id
    return None


def firm_booking_missed(network: Network, schedule: Schedule) -> Damaged | None:
    """Come to a firm appointment when it is over."""
    for booking in network.bookings:
        if booking.firm:
            return start_at(network, schedule, {booking.activities[0]: booking.until}), booking.id
    return None


def pass_expired(network: Network, schedule: Schedule) -> Damaged | None:
    """Cover one tick after the inspector's pass has gone stale."""
    for link in network.links:
        if link.at_most and link.type is LinkType.FS and link.lag_calendar is None:
            stale = schedule.dates[link.before][1] + link.lag + 1
            return start_at(network, schedule, {link.after: stale}), link.id
    return None


def activity_shortened(network: Network, schedule: Schedule) -> Damaged | None:
    """Give an activity less time than its work takes."""
    for a in network.activities:
        start, finish = schedule.dates[a.id]
        if a.work > 1:
            return moved(schedule, {a.id: (start, finish - 1)}), f"work/{a.id}"
    return None


def activity_left_out(network: Network, schedule: Schedule) -> Damaged | None:
    """Forget an activity."""
    first, *rest = network.activities
    return replace(schedule, dates={a.id: schedule.dates[a.id] for a in rest}), f"missing/{first.id}"


def target_missed(network: Network, schedule: Schedule) -> Damaged | None:
    """Finish an activity one tick after the target."""
    if network.target is None:
        return None
    last = max(schedule.dates, key=lambda i: schedule.dates[i][1])
    return moved(schedule, {last: (schedule.dates[last][0], network.target.at + 1)}), network.target.id


Damage = Callable[[Network, Schedule], Damaged | None]

DAMAGES: Mapping[str, tuple[Damage, ...]] = {
    "activities": (activity_shortened, activity_left_out, begun_for_minutes),
    "calendars": (trade_on_closed_day, closed_at_forbidden_hour, work_in_its_season),
    "links": (
        swap_two_activities,
        pass_expired,
        site_step_not_awaited,
        wait_cut_short,
        main_covered_before_branch,
        covered_before_the_line_is_tested,
        riser_before_its_pole,
        live_before_cover,
    ),
    "holds": (cover_before_release, fill_kept_open_early, own_hold_not_awaited),
    "dates": (notice_broken,),
    "tickets": (dig_after_expiry, dig_before_clear, renewal_forgotten),
    "bookings": (firm_booking_missed,),
    "target": (target_missed,),
    "resources": (double_booked_crew,),
    "spaces": (two_trades_in_one_reach, people_beside_the_machine, prove_beside_the_machine),
    "open_limits": (too_much_trench_open,),
    "kept_shut": (open_when_it_may_not,),
    "kept_behind": (people_in_the_swing_of_the_dig,),
    "visit_rules": (visit_outside_its_window, look_without_visit, visit_split_in_two, visit_too_full),
}
"""By field of the network whose rule is broken."""
