"""Which given dates cannot stand together: sets of activities of which at least one must move, whatever else does."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.network.normal import Capacity, LookGroup, Use
from scheduler.schedule import Span
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.worktime.axis import Ticks

Core = frozenset[str]
"""Activities of which at least one must move."""
FEET_TOLERANCE = 1e-6
TRIED_AT_MOST = 600
"""An activity with more places left than this is taken to have one."""


@dataclass(frozen=True, eq=False)
class GivenDates:
    """Dates made elsewhere, on a frame whose spans are those that any plan may use."""

    frame: TimeWindows
    given: Mapping[str, Span]

    @property
    def network(self) -> Network:
        """The job."""
        return self.frame.network

    @cached_property
    def propagation(self) -> Propagation:
        """The links of the job."""
        return Propagation(self.network)

    @cached_property
    def places(self) -> dict[str, int]:
        """Where each activity that may stay has its dates, in the list of its spans."""
        found = {}
        for activity, (start, finish) in self.given.items():
            starts, ends = self.clock(activity)
            at = int(np.searchsorted(starts, start))
            if at < len(starts) and starts[at] == start and ends[at] == finish:
                found[activity] = at
        return found

    def clock(self, activity: str) -> tuple[Ticks, Ticks]:
        """Return every start that an activity may have, and the finish of each [clock ticks]."""
        spans = self.frame.spans[activity]
        starts = self.frame.edge_clock(activity, "start")[spans.starts]
        return starts, self.frame.edge_clock(activity, "finish")[spans.ends]

    @cached_property
    def at_once(self) -> set[Core]:
        """What is seen without trying: activities at no time of theirs, without dates, or against a link."""
        cores = {frozenset({a.id}) for a in self.network.activities if a.id not in self.places}
        for p in self.propagation.precedences:
            if p.predecessor in self.places and p.successor in self.places:
                floor = self.propagation.floor(p, self.given[p.predecessor])
                if floor is None or floor > self.given[p.successor][0]:
                    cores.add(frozenset({p.predecessor, p.successor}))
        return cores

    def staying(self, moved: Collection[str]) -> set[Core]:
        """Return what cannot stand together, by capacities and visits, of the activities that are not moved."""
        stay = set(self.places) - set(moved)
        normal, cores = lower(self.network), set[Core]()
        for capacity in normal.capacities:
            cores.update(self._overloads(capacity, stay))
        for group in normal.look_groups:
            cores.update(self._full_visits(group, stay))
        return cores

    def span_of(self, use: Use) -> Span:
        """Return from when to when a use lasts."""
        return self.given[use.first][0], self.given[use.last][1]

    def _overloads(self, capacity: Capacity, stay: Collection[str]) -> Iterator[Core]:
        uses = [u for u in capacity.uses if u.first in stay and u.last in stay]
        spans = [(*self.span_of(u), u) for u in uses]
        spans = sorted((s for s in spans if s[0] < s[1]), key=lambda s: (s[0], s[1], s[2].first))
        present: list[tuple[int, int, Use]] = []
        for start, finish, use in spans:
            present = [p for p in present if p[1] > start]
            present.append((start, finish, use))
            if (crowd := too_many(capacity, [p[2] for p in present])) is not None:
                yield frozenset(a for u in crowd for a in (u.first, u.last))

    def _full_visits(self, group: LookGroup, stay: Collection[str]) -> Iterator[Core]:
        calendar = self.network.calendars[group.calendar]
        seen: dict[Span | None, list[str]] = {}
        for look in (k for k in group.looks if k in stay):
            seen.setdefault(calendar.window_at(self.given[look][0]), []).append(look)
        for looks in seen.values():
            if group.most_looks is not None and len(looks) > group.most_looks:
                yield frozenset(looks[-group.most_looks - 1 :])
            if group.most_ft is None:
                continue
            chosen, feet = [], 0.0
            for look in sorted(looks, key=lambda k: -group.ft.get(k, 0.0)):
                chosen.append(look)
                feet += group.ft.get(look, 0.0)
                if feet > group.most_ft + FEET_TOLERANCE:
                    yield frozenset(chosen)
                    break

    def no_place(self, activity: str, moved: Collection[str]) -> Core | None:
        """Return which of those that stay leave an activity no place at all; None when there may be one."""
        stay = set(self.places) - set(moved) - {activity}
        starts, ends = self.clock(activity)
        first, last, core = self._between_links(activity, stay, starts)
        if first < last <= first + TRIED_AT_MOST:
            against = list(self._against(activity, stay))
            for span in zip(starts[first:last].tolist(), ends[first:last].tolist(), strict=True):
                crowds = (_crowd(self, capacity, uses, own, span) for capacity, uses, own in against)
                crowd = next((c for c in crowds if c is not None), None)
                if crowd is None:
                    return None
                core |= crowd
        elif first < last:
            return None
        return frozenset(core)

    def _between_links(self, activity: str, stay: Collection[str], starts: Ticks) -> tuple[int, int, set[str]]:
        """Return which of its starts the links to those that stay allow: the first, past the last, and who limits them.

        Both are places in `starts`; none is allowed where the first is not below the other.
        """
        first, last, low, high = 0, len(starts), "", ""
        for p in self.propagation.into[activity]:
            if p.predecessor in stay:
                floor = self.propagation.floor(p, self.given[p.predecessor])
                at = len(starts) if floor is None else int(np.searchsorted(starts, floor))
                first, low = (at, p.predecessor) if at > first else (first, low)
        for p in self.propagation.out_of[activity]:
            if p.successor in stay:
                ceiling = self.propagation.ceiling(p, self.given[p.successor])
                at = last if ceiling is None else int(np.searchsorted(starts, ceiling, side="right"))
                last, high = (at, p.successor) if at < last else (last, high)
        return first, last, {a for a in (low, high) if a}

    def _against(self, activity: str, stay: Collection[str]) -> Iterator[tuple[Capacity, list[Use], Use]]:
        """Yield each capacity that an activity uses while it lasts, its use, and the uses of those that stay."""
        for capacity in lower(self.network).capacities:
            for own in (u for u in capacity.uses if u.is_work and u.first == activity):
                yield capacity, [u for u in capacity.uses if u.first in stay and u.last in stay], own

    def beside(self, activities: Iterable[str]) -> set[str]:
        """Return the activities that some rule binds to some of these."""
        free, found = set(activities), set[str]()
        for a in free:
            found.update(p.successor for p in self.propagation.out_of[a])
            found.update(p.predecessor for p in self.propagation.into[a])
        for capacity in lower(self.network).capacities:
            users = {a for u in capacity.uses for a in (u.first, u.last)}
            found |= users if users & free else set()
        for group in lower(self.network).look_groups:
            found |= set(group.looks) if free & set(group.looks) else set()
        return found - free


def _crowd(dates: GivenDates, capacity: Capacity, uses: Iterable[Use], own: Use, span: Span) -> set[str] | None:
    """Return who of a capacity's users leaves no room for one more use at some dates; None when there is room."""
    others = [u for u in uses if (s := dates.span_of(u))[0] < span[1] and s[1] > span[0] and s[0] < s[1]]
    moments = sorted({max(span[0], dates.span_of(u)[0]) for u in others})
    for moment in moments:
        present = [u for u in others if dates.span_of(u)[0] <= moment < dates.span_of(u)[1]]
        if (crowd := too_many(capacity, [own, *present])) is not None:
            return {a for u in crowd for a in (u.first, u.last)} - {own.first}
    return None


def too_many(capacity: Capacity, present: list[Use]) -> list[Use] | None:
    """Return some of the uses present at one moment that together are too many; None when all have room."""
    one_each: dict[str, Use] = {}
    for n, use in enumerate(present):
        one_each.setdefault(use.shared or f"/{n}", use)
    chosen, units = [], 0
    for use in sorted(one_each.values(), key=lambda u: -u.units):
        chosen.append(use)
        units += use.units
        if units > capacity.units:
            return chosen
    return None
