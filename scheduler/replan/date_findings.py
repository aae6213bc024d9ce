"""Faults in dates made elsewhere, and the fewest moves that mend them, told step by step."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from scheduler.audit import audit
from scheduler.findings import Finding
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.replan.nearest_dates import NearestDates, nearest_dates
from scheduler.schedule import Schedule, Span
from scheduler.solve.formulation.dated import dated
from scheduler.spoken import count

ONE_BY_ONE = 24
"""Of more moves than this it is not asked which of them help alone."""
NAMED = 3
"""So many of those that move too are named."""


@dataclass(frozen=True, slots=True)
class DateMove:
    """One activity moved from some dates to others [clock ticks]; from none when it had no dates."""

    activity: str
    before: Span | None
    after: Span


@dataclass(frozen=True, slots=True)
class Mend:
    """Findings that one change mends, the change told in words.

    `moves` are empty where no move of dates helps, and `text` is then what the audit says and advises.
    """

    text: str
    findings: tuple[Finding, ...]
    moves: tuple[DateMove, ...] = ()


@dataclass(frozen=True, slots=True)
class Mends:
    """The smallest changes that mend dates, in the order in which to make them.

    With all of them made, the dates keep every rule, save what the last ones, without moves, tell.
    """

    steps: tuple[Mend, ...]
    moved: int
    """Activities moved."""
    least: int
    """In every plan that keeps the rules so many activities, or more, have other dates."""

    @property
    def said(self) -> str:
        """How few the moves are, and whether that is proved."""
        if not self.moved:
            return "No move of dates that fixes these was found."
        if self.moved <= self.least:
            return f"{count(self.moved, 'activity', 'activities')} moved; proved: no plan moves fewer."
        return f"{count(self.moved, 'activity', 'activities')} moved; no plan moves fewer than {self.least}."


def mends(network: Network, schedule: Schedule) -> Mends:
    """Return the fewest moves, in any direction, after which dates keep every rule, grouped by what they mend.

    Of plans with as few moves, one that moves the least working time. Each step mends something; the audit has been
    asked after each. What no move mends (a target that cannot be met, a look in no visit) comes last, by rule.
    """
    left = audit(network, schedule)
    if not left:
        return Mends((), 0, 0)
    found = nearest_dates(network, schedule.dates)
    if found is None:
        return Mends(tuple(_by_rule(left)), 0, 0)
    steps, left = _steps(network, schedule, found, left)
    return Mends((*steps, *_by_rule(left)), found.moved, found.least)


def _steps(
    network: Network, schedule: Schedule, found: NearestDates, left: list[Finding]
) -> tuple[list[Mend], list[Finding]]:
    """Return the moves to a plan in steps each of which leaves fewer findings, and what is left after the last."""
    after = found.schedule.dates
    waiting = [
        DateMove(a, schedule.dates.get(a), span)
        for a, span in sorted(after.items(), key=lambda item: (item[1], item[0]))
        if schedule.dates.get(a) != span
    ]
    strange = {a: span for a, span in schedule.dates.items() if a not in network.by_id}
    steps, dates = [], dict(schedule.dates)
    while waiting:
        for group in _groups(network, waiting):
            moved = {**dates, **{m.activity: m.after for m in group}}
            whole = all(a.id in moved for a in network.activities)
            made = dated(network, moved) if whole else replace(schedule, dates=moved)
            still = audit(network, replace(made, dates={**made.dates, **strange}))
            if len(still) < len(left) or len(group) == len(waiting):
                break
        mended = tuple(f for f in left if f not in still)
        steps.append(Mend(_told(network, group), mended, tuple(group)))
        left, dates = still, moved
        waiting = [m for m in waiting if m not in group]
    return steps, left


def _groups(network: Network, waiting: Sequence[DateMove]) -> Iterator[Sequence[DateMove]]:
    """Yield what to try as the next step: each move alone, then with all that links and room tie to it; last, all."""
    ties = [{k.before, k.after} for k in lower(network).links]
    ties += [{a for u in c.uses for a in (u.first, u.last)} for c in lower(network).capacities if c.is_room]
    moving = {m.activity for m in waiting}
    ties = [tie for tie in (t & moving for t in ties) if len(tie) > 1]
    for move in waiting if len(waiting) <= ONE_BY_ONE else ():
        yield [move]
        group = _tied(move.activity, ties)
        if 1 < len(group) < len(waiting):
            yield [m for m in waiting if m.activity in group]
    yield waiting


def _tied(activity: str, ties: Sequence[set[str]]) -> set[str]:
    """Return an activity with all that ties lead to from it."""
    group, grown = {activity}, True
    while grown:
        before = len(group)
        for tie in ties:
            group |= tie if tie & group else set()
        grown = len(group) > before
    return group


def _told(network: Network, moves: Sequence[DateMove]) -> str:
    """Say the longest move of a step, and who moves with it."""
    first = max(moves, key=lambda m: abs(m.after[0] - (m.before or m.after)[0]))
    others = [m for m in moves if m is not first]
    text = _one(network, first)
    if others:
        text += " With it: " + " ".join(_one(network, m) for m in others[:NAMED])
        text += f" And {len(others) - NAMED} more." if len(others) > NAMED else ""
    return text


def _one(network: Network, move: DateMove) -> str:
    spoken, name = network.clock.spoken, network.by_id[move.activity].name
    if move.before is None:
        return f"Start {name} {spoken(move.after[0])}."
    if move.before[0] == move.after[0]:
        return f"Let {name} last until {spoken(move.after[1])} instead of {spoken(move.before[1])}."
    return f"Start {name} {spoken(move.after[0])} instead of {spoken(move.before[0])}."


def _by_rule(left: Sequence[Finding]) -> list[Mend]:
    """Return what no move mends, one group a rule, told by its first finding with what the audit advises."""
    groups: dict[str, list[Finding]] = {}
    for finding in left:
        groups.setdefault(finding.rule, []).append(finding)
    return [Mend(f"{group[0].text} {group[0].remedy}".strip(), tuple(group)) for group in groups.values()]
