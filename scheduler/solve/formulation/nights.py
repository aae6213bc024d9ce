"""Nights of open trench in a search: which openings stand open over which nights.

A night literal of an opening is true when its dig has started before that night and its
fill ends after it. Their sum, weighted by feet and by the midnights that fall in one closed
stretch of the axis (three over a weekend), is the exposure.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from ortools.sat.python import cp_model

from scheduler.measures import midnights
from scheduler.network.model import Opening
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.formulation.variables import Expr, Search
from scheduler.worktime.axis import Ticks

PER_FOOT = 10
"""Exposure is counted in tenths of foot nights."""


def night_ticks(frame: TimeWindows) -> tuple[Ticks, Ticks]:
    """Return the work ticks that begin after a night, and the midnights before each."""
    network = frame.network
    return frame.axis.nights(midnights(network.clock, network.data_date, network.horizon))


def same_nights(frame: TimeWindows, starts: Mapping[str, int]) -> TimeWindows:
    """Return a frame in which every stretch stands open over the same nights as in a plan."""
    ticks, _ = night_ticks(frame)
    bounds = np.concatenate(([-1], ticks, [len(frame.axis) + 1]))
    held = copy.copy(frame)
    held.spans = dict(frame.spans)
    for stretch in (o for o in frame.network.openings if o.length_ft > 0):
        opened = starts[stretch.opens]
        day = int(np.searchsorted(bounds, opened, side="right"))
        first, after = int(bounds[day - 1]), int(bounds[day])
        held.spans[stretch.opens] = held.spans[stretch.opens].between(first, after - 1)
        spans = frame.spans[stretch.closes]
        closed = spans.ends[np.searchsorted(spans.starts, starts[stretch.closes])]
        day = int(np.searchsorted(bounds, closed))
        first, after = int(bounds[day - 1]), int(bounds[day])
        held.spans[stretch.closes] = held.spans[stretch.closes].between(first + 1, after, "finish")
    held.narrow()
    return held


@dataclass
class Nights:
    """Literals that order starts and ends against nights, made when asked for and shared."""

    search: Search
    _literals: dict[tuple[str, str, int], cp_model.IntVar] = field(default_factory=dict)

    def at_or_after(self, activity: str, edge: str, tick: int) -> cp_model.IntVar:
        """Return whether a start, or an end, is at or after a work tick."""
        ticks = self.search.frame.edge_ticks(activity, edge)
        if ticks[0] >= tick or ticks[-1] < tick:
            return self.search.model.new_constant(int(ticks[0] >= tick))
        key = (activity, edge, tick)
        if key not in self._literals:
            literal = self.search.model.new_bool_var(f"{activity} {edge} from {tick}")
            at = self.search.placed[activity].edge(edge)
            self.search.model.add(at >= tick).only_enforce_if(literal)
            self.search.model.add(at < tick).only_enforce_if(literal.negated())
            self._literals[key] = literal
        return self._literals[key]

    def touches(self, activity: str, first: int, after: int) -> cp_model.IntVar:
        """Return whether an activity is at work in [first, after) [work ticks]."""
        begun = self.at_or_after(activity, "start", after)
        going = self.at_or_after(activity, "finish", first + 1)
        both = self.search.model.new_bool_var(f"{activity} in {first}")
        self.search.model.add_implication(both, begun.negated())
        self.search.model.add_implication(both, going)
        self.search.model.add_bool_or([both, begun, going.negated()])
        return both

    def goes_on_over(self, activity: str, tick: int) -> cp_model.IntVar:
        """Return whether an activity starts before a work tick and goes on after it."""
        return self.touches(activity, tick, tick)

    def chain(self) -> None:
        """Say of each start and end that being at or after a tick implies the ticks before it."""
        by_edge: dict[tuple[str, str], list[int]] = {}
        for activity, edge, tick in sorted(self._literals):
            by_edge.setdefault((activity, edge), []).append(tick)
        for (activity, edge), ticks in by_edge.items():
            for early, late in pairwise(ticks):
                literals = self._literals[activity, edge, late], self._literals[activity, edge, early]
                self.search.model.add_implication(*literals)


def feet(opening: Opening) -> int:
    """Return the length of an opening in the unit in which exposure is counted."""
    return round(PER_FOOT * opening.length_ft)


def exposure_of(search: Search, nights: Nights) -> Expr:
    """Return the exposure as an expression, with the literals it needs [tenths of ft nights]."""
    return nights_times(search, nights, [(o.opens, o.closes, feet(o)) for o in search.frame.network.openings])


def nights_of(search: Search, nights: Nights, opening: Opening, least: int) -> cp_model.IntVar:
    """Return the nights that a stretch stands open as one number, `least` of them at the least.

    A search from below gets further with it than with literals for single nights: 2,858 against 2,431 ft nights for
    nine stretches of the bundled street.
    """
    begun = _nights_before(search, nights, opening.opens, "start")
    ended = _nights_before(search, nights, opening.closes, "finish")
    found = search.model.new_int_var(least, max(least, len(search.frame.axis)), f"{opening.id} nights")
    search.model.add(found >= ended - begun)
    return found


def _nights_before(search: Search, nights: Nights, activity: str, edge: str) -> Expr:
    """Return the nights that have passed by a start, or before an end."""
    ticks, counts = night_ticks(search.frame)
    passed = np.concatenate(([0], np.cumsum(counts)))
    at = search.frame.edge_ticks(activity, edge)
    first, last = np.searchsorted(ticks, [at[0], at[-1]], side="right" if edge == "start" else "left").tolist()
    if first == last:
        return int(passed[first])
    found = search.model.new_int_var_from_domain(cp_model.Domain.from_values(passed[first : last + 1].tolist()), "")
    for i in range(first, last):
        after = nights.at_or_after(activity, edge, int(ticks[i]) + (edge == "finish"))
        search.model.add(found >= int(passed[i + 1])).only_enforce_if(after)
        search.model.add(found <= int(passed[i])).only_enforce_if(after.negated())
    return found


def nights_times(search: Search, nights: Nights, spans: Iterable[tuple[str, str, int]], since: str = "start") -> Expr:
    """Return the nights from an edge of one activity to the finish of another, times an amount, summed up."""
    frame = search.frame
    ticks, counts = night_ticks(frame)
    terms: list[Expr] = [0]
    for opens, closes, amount in spans:
        if amount <= 0:
            continue
        first = frame.edge_ticks(opens, since)[0]
        last = frame.edge_ticks(closes, "finish")[-1]
        by = 0 if since == "start" else 1
        inside = slice(np.searchsorted(ticks + by, first, side="right"), np.searchsorted(ticks, last))
        for tick, count in zip(ticks[inside].tolist(), counts[inside].tolist(), strict=True):
            unstarted = nights.at_or_after(opens, since, tick + by)
            unfilled = nights.at_or_after(closes, "finish", tick + 1)
            search.model.add_implication(unstarted, unfilled)
            terms += [amount * count * unfilled, -amount * count * unstarted]
    return cp_model.LinearExpr.sum(terms)
