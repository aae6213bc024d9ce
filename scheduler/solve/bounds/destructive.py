"""How early a network can finish at best: bounds proved by counting, without any search.

A finish is refuted when the dates that links and calendars leave for it ask more of a party,
a room, an authority's visits or a limit on open trench than there is in some stretch of time.

Source: interval load (energy) arguments as in Baptiste, Le Pape and Nuijten,
"Constraint-Based Scheduling" (2001), ch. 3-4, counted here in each party's working hours.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduler.network.dates import Propagation
from scheduler.network.model import Network
from scheduler.schedule import Span
from scheduler.solve.bounds.energy import OpenHours, Supply, supplies
from scheduler.solve.first_plan.partial_schedule import plannable

Units = NDArray[np.int64]

BY_DATES = "links, dates and working hours alone"
NO_DATES = "the links, dates and working hours leave no dates at all"
MOST_TRIES = 20
"""Finishes tried at most; a bound that is not raised to the last tick is still a bound."""
ROUNDS = 3
"""Times that earliest starts are raised by counting what must come before."""


@dataclass(frozen=True, slots=True)
class _Refuted:
    """Why a finish cannot be, and the first finish worth trying after it."""

    words: str
    next_try: int


def finish_lower_bound(network: Network, known: int | None = None) -> tuple[int, str]:
    """Return a tick before which no plan can finish (the target aside), and what proves it in plain words.

    `known` is a finish that some plan reaches: the search for the bound ends there.
    """
    job = plannable(network)
    propagation = Propagation(job)
    first = propagation.forward()
    if first is None:
        return job.horizon + 1, NO_DATES
    if not job.activities:
        return 0, BY_DATES
    scarce = supplies(job, propagation.rank)
    earliest = _raised(propagation, first, scarce)
    if earliest is None:
        return job.horizon + 1, NO_DATES
    by_dates = max(f for _, f in first.values())
    bound = max(f for _, f in earliest.values())
    words = BY_DATES if bound == by_dates else "working hours, with parties and rooms that take one thing at a time"

    loads = _Loads(propagation, earliest, scarce)
    return _climb(bound, words, loads.refute, job.horizon if known is None else known)


def _climb(bound: int, words: str, refuted: Callable[[int], _Refuted | None], ceiling: int) -> tuple[int, str]:
    """Raise a bound until the finish at it is no longer refuted, or `ceiling` is reached."""
    if ceiling > bound and (hit := refuted(ceiling - 1)) is not None:
        return ceiling, hit.words
    tries = 0
    while bound < ceiling and tries < MOST_TRIES and (hit := refuted(bound)) is not None:
        tries += 1
        words, low, high = hit.words, bound, min(hit.next_try, ceiling)
        if high - low > 1 and (hit := refuted(high - 1)) is None:
            high -= 1
            while high - low > 1 and tries < MOST_TRIES:
                tries += 1
                middle = (low + high) // 2
                if (hit := refuted(middle)) is None:
                    high = middle
                else:
                    low, words = middle, hit.words
            return low + 1, words
        bound, words = high, words if hit is None else hit.words
    return bound, words


class _Loads:
    """The uses of each supply, from the earliest dates of a network."""

    def __init__(self, propagation: Propagation, earliest: dict[str, Span], scarce: Sequence[Supply]) -> None:
        self._propagation, self._earliest, self._scarce = propagation, earliest, scarce
        self._from = [np.array([s.before_start(earliest[use.first][0]) for use in s.uses]) for s in scarce]
        self._units = [np.array([use.units for use in s.uses]) for s in scarce]

    def refute(self, finish: int) -> _Refuted | None:
        """Return why not everything can finish by `finish`, or None when no count shows it."""
        latest = self._propagation.backward(finish)
        if latest is None or any(self._earliest[a][0] > start for a, (start, _) in latest.items()):
            return _Refuted(BY_DATES, finish + 1)
        worst: _Refuted | None = None
        for i, supply in enumerate(self._scarce):
            to = np.array([supply.before_finish(latest[use.last][1]) for use in supply.uses])
            over = _overload(self._from[i], to, self._units[i])
            if over > 0:
                later = supply.later(finish, over)
                hit = _Refuted(supply.words, finish + 1 if later is None else max(later, finish + 1))
                worst = hit if worst is None or hit.next_try > worst.next_try else worst
        return worst


def _overload(from_: Units, to: Units, units: Units) -> int:
    """Return the most by which the uses that lie in some stretch exceed its supply (0: none do)."""
    if units.sum() <= to.min() - from_.max():
        return 0
    order = np.argsort(to, kind="stable")
    from_, to, units = from_[order], to[order], units[order]
    most = 0
    for start in np.unique(from_):
        inside = from_ >= start
        excess = np.cumsum(np.where(inside, units, 0))[inside] - (to[inside] - start)
        most = max(most, int(excess.max()))
    return most


def _raised(propagation: Propagation, earliest: dict[str, Span], scarce: Sequence[Supply]) -> dict[str, Span] | None:
    """Return earliest dates raised for activities whose predecessors cannot all be at work at once."""
    used_by: dict[str, list[tuple[int, int]]] = {}
    for i, supply in enumerate(scarce):
        if isinstance(supply, OpenHours):
            for use in supply.uses:
                if use.is_work:
                    used_by.setdefault(use.first, []).append((i, use.units))
    for _ in range(ROUNDS):
        floors: dict[str, int] = {}
        for activity, precedences in propagation.into.items():
            before = {p.predecessor for p in precedences if p.link.keeps_apart}
            floor = _all_done(before, earliest, used_by, scarce)
            if floor > earliest[activity][0]:
                floors[activity] = floor
        if not floors:
            break
        raised = propagation.forward({a: max(s, floors.get(a, 0)) for a, (s, _) in earliest.items()})
        if raised is None:
            return None
        earliest = raised
    return earliest


def _all_done(
    activities: set[str],
    earliest: Mapping[str, Span],
    used_by: Mapping[str, list[tuple[int, int]]],
    scarce: Sequence[Supply],
) -> int:
    """Return a tick before which activities that share a party or a room cannot all be done."""
    if len(activities) < 2:
        return 0
    shared: dict[int, list[tuple[int, int]]] = {}
    for a in activities:
        for i, units in used_by.get(a, ()):
            shared.setdefault(i, []).append((earliest[a][0], units))
    done = 0
    for i, uses in shared.items():
        total = 0
        for start, units in sorted(uses, reverse=True) if len(uses) > 1 else ():
            total += units
            done = max(done, scarce[i].later(start, total) or 0)
    return done
