"""Faults in dates made elsewhere, put together by what mends them: one move may mend several."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import networkx as nx

from scheduler.audit import audit
from scheduler.explain.sequence import sequence_of
from scheduler.findings import Finding
from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.network.model import Link, Network
from scheduler.network.normal import DateBound
from scheduler.schedule import Schedule, Span
from scheduler.shared_visits import visits_of


@dataclass(frozen=True, slots=True)
class DateMove:
    """One activity moved from some dates to others [clock ticks]."""

    activity: str
    before: Span
    after: Span


@dataclass(frozen=True, slots=True)
class Mend:
    """Findings that one change mends, the change told in words.

    `moves` hold the activity at fault first, then what must give way to it; they are empty where
    no later date helps, and `text` is then what the audit says and advises.
    """

    text: str
    findings: tuple[Finding, ...]
    moves: tuple[DateMove, ...] = ()


def mends(network: Network, schedule: Schedule) -> list[Mend]:
    """Return every finding of an audit of the dates, grouped by the smallest later move that mends it.

    The moves are to be made one after another, in the order given; the audit has been asked
    after each. Who comes before whom stays as in the dates, where the rules allow it. What no
    later date mends (work missing, a target missed, a ticket run out) comes last, by rule.
    """
    left, found = audit(network, schedule), []
    while left and (step := _first_move(network, schedule, left)) is not None:
        mend, schedule, left = step
        found.append(mend)
    return [*found, *_by_rule(left)]


def _first_move(
    network: Network, schedule: Schedule, left: Sequence[Finding]
) -> tuple[Mend, Schedule, list[Finding]] | None:
    """Return the first move in time that mends something and harms nothing, and how things then stand."""
    if any(a.id not in schedule.dates for a in network.activities):
        return None
    propagation = Propagation(network, tuple(_order(network, schedule)), bounds=_open_ended(network))
    known = {a.id: schedule.dates[a.id] for a in network.activities}
    for cause in sorted(known, key=lambda a: (known[a], a)):
        moved = _moved(propagation, known, cause)
        if moved is None or moved == known:
            continue
        after = replace(schedule, dates={**schedule.dates, **moved}, visits=visits_of(network, moved))
        still = audit(network, after)
        mended = tuple(f for f in left if f not in still)
        if mended and len(still) < len(left):
            moves = tuple(DateMove(a, known[a], moved[a]) for a in moved if moved[a] != known[a])
            return Mend(_told(network, moves), mended, moves), after, still
    return None


def _open_ended(network: Network) -> tuple[DateBound, ...]:
    """Return the bounds without those after which something may not happen, appointments aside.

    Moving later mends none of them.
    """
    return tuple(b for b in lower(network).firm if b.sense != "max" or b.family == "bookings")


def _order(network: Network, schedule: Schedule) -> Iterator[Link]:
    """Yield who follows whom in the dates, save where the rules or those already yielded have it otherwise."""
    graph = nx.DiGraph((k.before, k.after) for k in lower(network).links if not k.at_most)
    arcs = sorted(sequence_of(network, schedule).arcs, key=lambda a: schedule.dates[a.link.after])
    for arc in arcs:
        before, after = arc.link.before, arc.link.after
        if after in graph and before in graph and nx.has_path(graph, after, before):
            continue
        graph.add_edge(before, after)
        yield arc.link


def _moved(propagation: Propagation, known: Mapping[str, Span], cause: str) -> dict[str, Span] | None:
    """Return the dates once one activity stands no sooner than it may, and others give way to that.

    None when it may stand where it is, or has nowhere to go. The cause comes first.
    """
    floors = (propagation.floor(precedence, known[precedence.predecessor]) for precedence in propagation.into[cause])
    start = propagation.allowed_from(cause, max([known[cause][0], *(f for f in floors if f is not None)]))
    span = None if start is None else propagation.span(cause, start)
    if span is None or span == known[cause]:
        return None
    moved = {cause: span}
    waiting = [cause]
    for by in waiting:
        for precedence in propagation.out_of[by]:
            floor = propagation.floor(precedence, moved[by])
            was = propagation.floor(precedence, known[by])
            now = moved.get(precedence.successor, known[precedence.successor])
            if floor is None or floor <= now[0] or (was is not None and was > known[precedence.successor][0]):
                continue
            start = propagation.allowed_from(precedence.successor, floor)
            span = None if start is None else propagation.span(precedence.successor, start)
            if span is None or len(waiting) > 4 * len(known):
                return None
            moved[precedence.successor] = span
            waiting.append(precedence.successor)
    return {**moved, **{a: s for a, s in known.items() if a not in moved}}


def _told(network: Network, moves: Sequence[DateMove]) -> str:
    spoken = network.clock.spoken
    first, *others = moves
    name = network.by_id[first.activity].name
    if first.before[0] == first.after[0]:
        text = f"Let {name} last until {spoken(first.after[1])} instead of {spoken(first.before[1])}."
    else:
        text = f"Start {name} {spoken(first.after[0])} instead of {spoken(first.before[0])}."
    if others:
        names = ", ".join(network.by_id[m.activity].name for m in others[:3])
        more = f" and {len(others) - 3} more" if len(others) > 3 else ""
        text += f" That moves {names}{more} too."
    return text


def _by_rule(left: Sequence[Finding]) -> list[Mend]:
    """Return what no move mends, one group a rule, told by its first finding with what the audit advises."""
    groups: dict[str, list[Finding]] = {}
    for finding in left:
        groups.setdefault(finding.rule, []).append(finding)
    return [Mend(f"{group[0].text} {group[0].remedy}".strip(), tuple(group)) for group in groups.values()]
