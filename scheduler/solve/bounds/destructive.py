"""How early a network can finish at best: bounds proved by counting, without any search.

A finish is refuted when the dates that links and calendars leave for it ask more of a party,
a room, an authority's visits or a limit on open trench than there is in some stretch of time.

Source: interval load (energy) arguments as in Baptiste, Le Pape and Nuijten,
"Constraint-Based Scheduling" (2001), ch. 3-4, counted here in each party's working hours.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
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
    propagation = Propagation(plannable(network))
    first = propagation.earliest
    if first is None:
        return network.horizon + 1, NO_DATES
    if not first:
        return 0, BY_DATES
    loads = _Loads.of(propagation, first)
    if loads is None:
        return network.horizon + 1, NO_DATES
    by_dates = max(f for _, f in first.values())
    bound = max(f for _, f in loads.earliest.values())
    words = BY_DATES if bound == by_dates else "working hours, with parties and rooms that take one thing at a time"
    return _climb(bound, words, loads.refute, network.horizon if known is None else known)


def is_refuted(propagation: Propagation, finish: int) -> bool:
    """Tell whether counting shows that a network cannot finish by a tick; `propagation` is of it as it is `plannable`.

    It is where `finish_lower_bound` is later, without the search for how much later.
    """
    first = propagation.earliest
    if first == {}:
        return False
    if first is None or (latest := propagation.backward(finish)) is None or _too_late(first, latest):
        return True
    loads = _Loads.of(propagation, first)
    return loads is None or loads.over(finish, latest) is not None


def _too_late(earliest: Mapping[str, Span], latest: Mapping[str, Span]) -> bool:
    return any(earliest[a][0] > start for a, (start, _) in latest.items())


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
        self.earliest = earliest
        self._propagation, self._scarce = propagation, scarce
        self._from = [np.array([s.before_start(earliest[use.first][0]) for use in s.uses]) for s in scarce]
        self._units = [np.array([use.units for use in s.uses]) for s in scarce]

    @classmethod
    def of(cls, propagation: Propagation, first: dict[str, Span]) -> _Loads | None:
        """Return the loads of a network from the first dates of its links; None when counting leaves no dates."""
        scarce = supplies(propagation.network, propagation.rank)
        earliest = _raised(propagation, first, scarce)
        return None if earliest is None else cls(propagation, earliest, scarce)

    def refute(self, finish: int) -> _Refuted | None:
        """Return why not everything can finish by `finish`, or None when no count shows it."""
        latest = self._propagation.backward(finish)
        return _Refuted(BY_DATES, finish + 1) if latest is None else self.over(finish, latest)

    def over(self, finish: int, latest: Mapping[str, Span]) -> _Refuted | None:
        """Return why not everything can finish by `finish`, given the latest dates that links leave for it."""
        if _too_late(self.earliest, latest):
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
    gathered, moved = list(_gathered(propagation, scarce)), set(earliest)
    for _ in range(ROUNDS):
        floors: dict[str, int] = {}
        for activity, supply, uses in gathered:
            if not moved.isdisjoint(uses) and (floor := _all_done(uses, earliest, supply)) > earliest[activity][0]:
                floors[activity] = max(floor, floors.get(activity, 0))
        if not floors:
            break
        raised = propagation.raised(earliest, floors)
        if raised is None:
            return None
        moved = {a for a, span in raised.items() if span != earliest[a]}
        earliest = raised
    return earliest


def _gathered(propagation: Propagation, scarce: Sequence[Supply]) -> Iterator[tuple[str, OpenHours, dict[str, int]]]:
    """Yield (activity, supply, what goes before and its units of it) where more than one shares a party or a room."""
    used_by: dict[str, list[tuple[int, int]]] = {}
    for i, supply in enumerate(scarce):
        for use in supply.uses if isinstance(supply, OpenHours) else ():
            if use.is_work:
                used_by.setdefault(use.first, []).append((i, use.units))
    for activity, precedences in propagation.into.items():
        shared: dict[int, dict[str, int]] = {}
        for a in dict.fromkeys(p.predecessor for p in precedences if p.link.keeps_apart):
            for i, units in used_by.get(a, ()):
                of = shared.setdefault(i, {})
                of[a] = of.get(a, 0) + units
        for i, uses in shared.items():
            if len(uses) > 1 and isinstance(supply := scarce[i], OpenHours):
                yield activity, supply, uses


def _all_done(uses: Mapping[str, int], earliest: Mapping[str, Span], supply: OpenHours) -> int:
    """Return a tick before which activities that share a party or a room cannot all be done."""
    done = total = 0
    for start, units in sorted(((earliest[a][0], units) for a, units in uses.items()), reverse=True):
        total += units
        done = max(done, supply.later(start, total) or 0)
    return done
