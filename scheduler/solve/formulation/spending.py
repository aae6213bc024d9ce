"""Money in a search: every charge of a network as an expression, the same as `scheduler.costs` counts in a schedule."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import assert_never

import numpy as np
from ortools.sat.python import cp_model

from scheduler.costs.charges import Charge
from scheduler.costs.counted import (
    BookingMoved,
    Comings,
    Counted,
    DaysAtWork,
    DaysStandingBy,
    DaysToFinish,
    NightsBetween,
    RenewalCalled,
    ShortOfLeast,
    StretchesByDay,
    VisitDays,
    WaitsBetweenLooks,
    is_working_day,
    least_visit_days,
)
from scheduler.measures import midnights
from scheduler.network.lowering import lower
from scheduler.network.prices import Mobilisation
from scheduler.solve.formulation.constraint_model import add_finish
from scheduler.solve.formulation.nights import Nights, night_ticks, nights_times
from scheduler.solve.formulation.rules.visit_caps import windows_of
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.formulation.variables import Expr, Search


def spent_on(search: Search, nights: Nights, weighed: Iterable[Charge]) -> Expr:
    """Return the sum of some charges as an expression [cents], with the literals it needs."""
    paid = [c.priced for c in weighed if c.costs]
    counts = counts_of(search, nights, [counted for _, counted in paid])
    return cp_model.LinearExpr.sum([0, *(cents * times for (cents, _), times in zip(paid, counts, strict=True))])


def counts_of(search: Search, nights: Nights, wanted: Sequence[Counted]) -> list[Expr]:
    """Return how often a plan has each of what is counted, as expressions."""
    exact = {c.at_work for c in wanted if isinstance(c, DaysStandingBy | ShortOfLeast)}
    counting = _Counting(search, nights, exact)
    return [counting.of(counted) for counted in wanted]


@dataclass(frozen=True)
class DaysOfAxis:
    """The days that have working hours at all, each as a stretch of work ticks."""

    bounds: tuple[int, ...]
    """The first work tick of each day, and the end of the last."""
    day_of: tuple[int, ...]
    """The days, counted from 0 at the data date."""

    @classmethod
    def of(cls, frame: TimeWindows) -> DaysOfAxis:
        """Return the days of a frame."""
        network, (ticks, _) = frame.network, night_ticks(frame)
        bounds = [0, *ticks.tolist(), len(frame.axis)]
        night = midnights(network.clock, network.data_date, network.horizon)
        return cls(tuple(bounds), tuple(bisect_right(night, frame.axis.start_clock(tick)) for tick in bounds[:-1]))

    def touched(self, frame: TimeWindows, activity: str) -> range:
        """Return the places of the days that an activity may touch."""
        first = int(frame.edge_ticks(activity, "start")[0])
        last = max(int(frame.edge_ticks(activity, "finish")[-1]), first + 1)
        return range(bisect_right(self.bounds, first) - 1, bisect_left(self.bounds, last))


@dataclass
class _Counting:
    """Expressions of what is charged for; those of one party's days are made once."""

    search: Search
    nights: Nights
    exact: set[DaysAtWork]
    """Parties of which fewer days at work may cost more than their own price: a day at work must then be one."""
    _days: DaysOfAxis = field(init=False)
    _finish: cp_model.IntVar | None = None
    _at_work: dict[str, dict[int, cp_model.IntVar]] = field(default_factory=dict)
    _comes: dict[str, dict[int, cp_model.IntVar]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._days = DaysOfAxis.of(self.search.frame)

    def of(self, counted: Counted) -> Expr:
        """Return how often a plan has what is counted."""
        match counted:
            case NightsBetween():
                return nights_times(self.search, self.nights, counted.spans, counted.since)
            case DaysAtWork():
                return counted.times * cp_model.LinearExpr.sum([*self._on_days(counted).values()])
            case DaysStandingBy():
                return counted.at_work.times * self._standing_by(counted)
            case StretchesByDay():
                on = [day for stretch in counted.stretches for day in self._on_days(stretch).values()]
                return cp_model.LinearExpr.sum([0, *on])
            case Comings():
                return cp_model.LinearExpr.sum([0, *self._comings(counted.party).values()])
            case ShortOfLeast():
                return self._short(counted)
            case VisitDays():
                return self._visits(counted)
            case WaitsBetweenLooks():
                return self._waits(counted)
            case BookingMoved():
                return self.search.moved[counted.booking]
            case RenewalCalled():
                return self.search.renewals[counted.renewal]
            case DaysToFinish():
                return self._to_finish(counted)
            case _:
                assert_never(counted)

    def _visits(self, counted: VisitDays) -> Expr:
        """Return on how many days some look of a person starts."""
        search, bounds = self.search, self._days.bounds
        looks_on: dict[int, list[list[Expr]]] = {}
        for group in lower(search.frame.network).look_groups:
            for look in group.looks if group.record in counted.inspections else ():
                starts = search.frame.edge_ticks(look, "start")
                for j in np.unique(np.searchsorted(bounds, starts, side="right") - 1).tolist():
                    since = self.nights.at_or_after(look, "start", bounds[j])
                    after = self.nights.at_or_after(look, "start", bounds[j + 1])
                    looks_on.setdefault(j, []).append([1 * since, -1 * after])
        used: list[Expr] = []
        for j, looks in sorted(looks_on.items()):
            visited = search.model.new_bool_var(f"{counted.inspections[0]} visit on day {j}")
            for inside in looks:
                search.model.add(visited >= cp_model.LinearExpr.sum(inside))
            used.append(visited)
        total = cp_model.LinearExpr.sum(used)
        search.model.add(total >= least_visit_days(search.frame.network, counted))
        return total

    def _waits(self, counted: WaitsBetweenLooks) -> Expr:
        """Return the work ticks between the first look and the last in each window, looks left out."""
        search, model = self.search, self.search.model
        groups = [g for g in lower(search.frame.network).look_groups if g.record in counted.inspections]
        firsts, lasts = windows_of(search, groups[0])
        looks_in: dict[int, list[str]] = {}
        for look in (k for g in groups for k in g.looks):
            starts = search.frame.edge_ticks(look, "start")
            for k in np.unique(np.searchsorted(firsts, starts, side="right") - 1).tolist():
                looks_in.setdefault(k, []).append(look)
        waits: list[Expr] = [0]
        for k, looks in looks_in.items():
            if len(looks) < 2:
                continue
            first, last = int(firsts[k]), int(lasts[k]) + 1
            begin, end = (model.new_int_var(first, last, f"{looks[0]} {edge} in window {k}") for edge in ("from", "to"))
            wait = model.new_int_var(0, last - first, f"{looks[0]} wait in window {k}")
            looked: list[Expr] = [0]
            for look in looks:
                since = self.nights.at_or_after(look, "start", first)
                after = self.nights.at_or_after(look, "start", last)
                here, placed = [since, after.negated()], search.placed[look]
                model.add(begin <= placed.start).only_enforce_if(here)
                model.add(end >= placed.end).only_enforce_if(here)
                looked += [
                    search.frame.network.by_id[look].work * since,
                    -search.frame.network.by_id[look].work * after,
                ]
            model.add(wait >= end - begin - cp_model.LinearExpr.sum(looked))
            waits.append(wait)
        return cp_model.LinearExpr.sum(waits)

    def _on_days(self, party: DaysAtWork) -> dict[int, cp_model.IntVar]:
        """Return, by the place of a day, whether a party is at work then.

        Where nothing is paid for days without work, a search may call a day of work that is none, at its price.
        """
        if party.party in self._at_work:
            return self._at_work[party.party]
        frame, model, network = self.search.frame, self.search.model, self.search.frame.network
        on: dict[int, cp_model.IntVar] = {}
        touches: dict[int, list[cp_model.IntVar]] = {}
        for activity in party.activities:
            hours = network.calendar_of(activity)
            for j in self._days.touched(frame, activity):
                first, after = self._days.bounds[j], self._days.bounds[j + 1]
                if not hours.open_ticks(frame.axis.start_clock(first), frame.axis.end_clock(after)):
                    continue
                here = on.setdefault(j, model.new_bool_var(f"{party.party} at work on day {j}"))
                if party in self.exact:
                    touches.setdefault(j, []).append(self.nights.touches(activity, first, after))
                else:
                    begun = self.nights.at_or_after(activity, "start", after)
                    going = self.nights.at_or_after(activity, "finish", first + 1)
                    model.add_bool_or([here, begun, going.negated()])
        for j, at_work in touches.items():
            model.add_max_equality(on[j], at_work)
        self._at_work[party.party] = dict(sorted(on.items()))
        return self._at_work[party.party]

    def _standing_by(self, counted: DaysStandingBy) -> Expr:
        """Return the working days without work between two days at work that are near each other."""
        model, network, on = self.search.model, self.search.frame.network, self._on_days(counted.at_work)
        day_of, idle = self._days.day_of, dict[int, cp_model.IntVar]()
        for i, k in combinations(on, 2):
            if day_of[k] - day_of[i] - 1 > counted.stay_days:
                continue
            for j in range(i + 1, k):
                if is_working_day(network, counted.at_work, day_of[j]):
                    waits = idle.setdefault(j, model.new_bool_var(f"{counted.at_work.party} waits on day {j}"))
                    worked = [on[j]] if j in on else []
                    model.add_bool_or([waits, *worked, on[i].negated(), on[k].negated()])
        return cp_model.LinearExpr.sum([0, *idle.values()])

    def _comings(self, party: Mobilisation) -> dict[int, cp_model.IntVar]:
        """Return, by the place of a day, whether a party comes to site then: whether a run of days begins.

        A day counts only when some work of the party touches it, so that no gap can be bridged
        by pretending to be there. Work in progress keeps the party on site over closed days, however many.
        """
        if party.id in self._comes:
            return self._comes[party.id]
        model, day_of = self.search.model, self._days.day_of
        touches: dict[int, list[cp_model.IntVar]] = {}
        for activity in party.activities:
            for j in self._days.touched(self.search.frame, activity):
                stretch = self._days.bounds[j], self._days.bounds[j + 1]
                touches.setdefault(j, []).append(self.nights.touches(activity, *stretch))
        on = {j: model.new_bool_var(f"{party.id} on day {j}") for j in sorted(touches)}
        runs: dict[int, cp_model.IntVar] = {}
        for j, here in on.items():
            model.add_max_equality(here, touches[j])
            before = [on[i] for i in on if i < j and day_of[j] - day_of[i] - 1 <= party.stay_days]
            comes = model.new_bool_var(f"{party.id} comes on day {j}")
            model.add_bool_or([comes, here.negated(), *before, *self._under_way(party, j)])
            runs[j] = comes
        if runs:
            model.add(cp_model.LinearExpr.sum([*runs.values()]) >= 1)
        self._comes[party.id] = runs
        return runs

    def _under_way(self, party: Mobilisation, j: int) -> list[cp_model.IntVar]:
        """Return of each activity whether it goes on over closed days before a day; [] where the party stays anyway."""
        day_of, begins = self._days.day_of, self._days.bounds[j]
        if j == 0 or day_of[j] - day_of[j - 1] - 1 <= party.stay_days:
            return []
        return [self.nights.goes_on_over(a, begins) for a in party.activities]

    def _short(self, counted: ShortOfLeast) -> Expr:
        """Return the cents by which the days at work of each coming fall short of the least for one.

        From the last day back: the days at work that are left of the coming under way.
        """
        model, comes, on = self.search.model, self._comings(counted.party), self._on_days(counted.at_work)
        short: list[Expr] = [0]
        enough = -(-counted.least // counted.a_day) if counted.a_day else 0
        after: tuple[cp_model.IntVar, cp_model.IntVar] | None = None
        for j in sorted(comes, reverse=True):
            left = model.new_int_var(0, enough, f"{counted.party.id} days left on day {j}")
            model.add(left <= cp_model.LinearExpr.sum([on.get(j, 0), after[0] if after else 0]))
            if after:
                model.add(left <= on.get(j, 0)).only_enforce_if(after[1])
            missing = model.new_int_var(0, counted.least, f"{counted.party.id} short on day {j}")
            model.add(missing >= counted.least - counted.a_day * left).only_enforce_if(comes[j])
            short.append(missing)
            after = left, comes[j]
        return cp_model.LinearExpr.sum(short)

    def _to_finish(self, counted: DaysToFinish) -> Expr:
        """Return the days to the finish that begin at a tick or later."""
        frame, model = self.search.frame, self.search.model
        network = frame.network
        least = max(int(s.ends[0]) for s in frame.spans.values())
        most = max(int(s.ends[-1]) for s in frame.spans.values())
        if self._finish is None:
            self._finish = add_finish(self.search, least, most)
        night = midnights(network.clock, network.data_date, network.horizon)
        terms: list[Expr] = [int(counted.first)]
        for tick, times in Counter(frame.axis.to_axis(m) for m in night if m >= counted.after).items():
            if tick < least:
                terms.append(times)
            elif tick < most:
                late = model.new_bool_var(f"finish after {tick}, from {counted.after} on")
                model.add(self._finish <= tick).only_enforce_if(late.negated())
                terms.append(times * late)
        return cp_model.LinearExpr.sum(terms)
