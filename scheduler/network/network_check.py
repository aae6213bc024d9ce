"""Whether a network can be planned at all, as far as that shows without planning it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import networkx as nx

from scheduler.findings import Finding, Severity
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.network.normal import NormalForm
from scheduler.network.order import order_of
from scheduler.spoken import working
from scheduler.units import format_counted


def check_network(network: Network) -> list[Finding]:
    """Return what is wrong with a network: unknown ids, circles, work that fits no calendar.

    A network that passes may still have no plan; one that does not pass has none.
    """
    found = _unknown(network)
    if not found:
        found += [*_circles(network), *_calendars(network), *_limits(network)]
    return found


def _fault(rule: str, where: str, text: str, *, found: str = "", required: str = "", remedy: str = "") -> Finding:
    return Finding(f"network.{rule}", Severity.STOP, where, text, found=found, required=required, remedy=remedy)


def _references(network: Network) -> Iterator[tuple[str, str, Sequence[str]]]:
    """Yield (record, kind of thing, ids it refers to): every id must exist before rules can be lowered."""
    for activity in network.activities:
        yield activity.id, "calendar", [activity.calendar]
        yield activity.id, "resource", [r for r, _ in activity.needs]
    for hold in network.holds:
        yield hold.id, "activity", [hold.look, *hold.gates]
    for space in network.spaces:
        yield space.id, "activity", [a for a, _ in space.occupants]
    for opening in network.openings:
        yield opening.id, "activity", [opening.opens, opening.closes]
    for limit in network.open_limits:
        yield limit.id, "opening", [o for o, _ in limit.amounts]
    for shut in network.kept_shut:
        yield shut.id, "activity", [shut.opens, shut.closes, *([shut.covers] if shut.covers else [])]
    for behind in network.kept_behind:
        yield behind.id, "activity", [behind.before, behind.after]
    for way in network.ways:
        yield way.id, "activity", [a for n in way.nights for a in (n.opens, n.closes)]
    for rental in network.rentals:
        yield rental.opens, "activity", [rental.opens, rental.closes]
    for bare in network.unpaved:
        yield bare.id, "activity", [bare.opens, bare.closes]
    for mobilisation in network.mobilisations:
        yield mobilisation.id, "activity", mobilisation.activities


def _named_in_rules(normal: NormalForm) -> Iterator[tuple[str, str, Sequence[str]]]:
    """Yield (where, kind of thing, ids named there) for every rule."""
    for bound in normal.bounds:
        yield bound.record, "activity", [bound.activity]
    for link in normal.links:
        yield link.record or link.id, "activity", [link.before, link.after]
        yield link.record or link.id, "calendar", [link.lag_calendar] if link.lag_calendar else []
    for capacity in normal.capacities:
        yield capacity.record, "activity", [a for use in capacity.uses for a in (use.first, use.last)]
    for group in normal.look_groups:
        yield group.record, "activity", group.looks
        yield group.record, "calendar", [group.calendar]


def _unknown(network: Network) -> list[Finding]:
    """Return, once for each place, what is named and does not exist; two activities of one name too."""
    known = {
        "activity": set(network.by_id),
        "calendar": set(network.calendars),
        "resource": set(network.resource_by_id),
        "opening": {o.id for o in network.openings},
    }

    def faults(named: Iterable[tuple[str, str, Sequence[str]]]) -> list[Finding]:
        return [
            _fault(f"unknown-{kind}", where, f"It names a {kind} that does not exist.", found=id_)
            for where, kind, ids in named
            if not known[kind].issuperset(ids)
            for id_ in ids
            if id_ not in known[kind]
        ]

    found = faults(_references(network)) or faults(_named_in_rules(lower(network)))
    if len(network.by_id) != len(network.activities):
        found.append(_fault("twice", network.name, "Two activities have the same id."))
    return list(dict.fromkeys(found))


def _circles(network: Network) -> Iterator[Finding]:
    """Find one shortest circle in each knot of activities that wait for each other."""
    graph = order_of(network.by_id, network.links, network.holds, network.kept_behind)
    for knot in nx.strongly_connected_components(graph):
        first = min(knot)
        if len(knot) == 1 and not graph.has_edge(first, first):
            continue
        circle = [a for a, _ in nx.find_cycle(graph.subgraph(sorted(knot)), first)]
        names = " → ".join(network.by_id[a].name for a in [*circle, circle[0]])
        yield _fault(
            "circle",
            network.by_id[circle[0]].name,
            f"These wait for each other, so none can start: {names}.",
            remedy="Look at what the outside work and the keep-open stretches among them wait for.",
        )


def _calendars(network: Network) -> Iterator[Finding]:
    longest = {k: max((b - a for a, b in c.windows), default=0) for k, c in network.calendars.items()}
    total = {k: c.open_ticks(network.data_date, network.horizon) for k, c in network.calendars.items()}
    for activity in network.activities:
        minutes = network.clock.tick_minutes
        work = working(activity.work * minutes)
        name = network.calendars[activity.calendar].name
        if activity.kind.takes_time and total[activity.calendar] < activity.work:
            yield _fault(
                "never-open",
                activity.name,
                f"It takes {work}, but {name} give fewer before the plan's last day.",
                found=working(total[activity.calendar] * minutes),
                required=work,
                remedy="Open more hours, or look further ahead.",
            )
        elif activity.one_window and longest[activity.calendar] < activity.work:
            yield _fault(
                "window-too-short",
                activity.name,
                f"It takes {work} in one go, but no window of {name} is as long.",
                found=working(longest[activity.calendar] * minutes),
                required=work,
                remedy="Give it a longer window, or let it be split.",
            )


def _limits(network: Network) -> Iterator[Finding]:
    for limit in network.open_limits:
        opening_of = {o.id: o for o in network.openings}
        at_once: dict[str, int] = {}
        for id_, amount in limit.amounts:
            opens = opening_of[id_].opens
            at_once[opens] = at_once.get(opens, 0) + amount
        for opens, amount in at_once.items():
            if amount > limit.capacity:
                yield _fault(
                    "reach-too-long",
                    network.by_id[opens].name,
                    f"{limit.because} This one alone opens {format_counted(amount, limit.unit)}.",
                    found=format_counted(amount, limit.unit),
                    required=f"at most {format_counted(limit.capacity, limit.unit)}",
                    remedy="Cut the reach in two, or allow more open trench.",
                )
