"""The variables of a search: a start, an end and an interval for each activity.

On the work-time axis most activities have one size. Work by a calendar narrower than the
axis has a size for each way it can span closed time; one literal stands for each of these.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from ortools.sat.python import cp_model

from scheduler.network.model import Activity
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.worktime.axis import Spans, Ticks

Expr = cp_model.LinearExpr | int
Literal = cp_model.LiteralT


@dataclass(frozen=True)
class Placed:
    """One activity in a search; start and end are work ticks, plain numbers when fixed."""

    start: Expr
    end: Expr
    interval: cp_model.IntervalVar | None
    """None until asked for by `Search.interval`, when fixed."""

    @property
    def fixed(self) -> bool:
        """Whether there is only one place for it."""
        return isinstance(self.start, int)

    def edge(self, name: str) -> Expr:
        """Return the start or the end."""
        return self.start if name == "start" else self.end


@dataclass
class Search:
    """A model under construction: its variables, and the literal that switches each rule.

    With `guarded`, `guard` gives each rule a literal and its constraints hold only when the
    literal is true; otherwise rules are plain constraints and cost nothing extra.
    """

    frame: TimeWindows
    guarded: bool = False
    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    placed: dict[str, Placed] = field(default_factory=dict)
    guards: dict[str, cp_model.IntVar] = field(default_factory=dict)
    because: dict[str, str] = field(default_factory=dict)
    renewals: dict[str, cp_model.IntVar] = field(default_factory=dict)
    """Whether each ticket renewal is used."""
    moved: dict[str, cp_model.IntVar] = field(default_factory=dict)
    """Whether each soft booking is moved."""

    def guard(self, ref: str, because: str) -> list[cp_model.IntVar]:
        """Return the literals that must hold for a rule to bind: none unless guarded."""
        if not self.guarded:
            return []
        if ref not in self.guards:
            self.guards[ref] = self.model.new_bool_var(f"rule {ref}")
            self.because[ref] = because
        return [self.guards[ref]]

    def interval(self, activity: str) -> cp_model.IntervalVar:
        """Return the interval of an activity."""
        placed = self.placed[activity]
        if placed.interval is None:
            assert isinstance(placed.start, int)
            assert isinstance(placed.end, int)
            made = self.model.new_fixed_size_interval_var(placed.start, placed.end - placed.start, activity)
            self.placed[activity] = placed = Placed(placed.start, placed.end, made)
            return made
        return placed.interval

    def contending(self, activities: Iterable[str]) -> list[str]:
        """Return those of some activities that may get in each other's way.

        In a part of a plan that is known to keep all rules, what is fixed matters only
        where something that is not comes near; nothing is returned when nothing is free.
        """
        every = list(dict.fromkeys(activities))
        if not self.frame.is_part:
            return every
        spans = self.frame.spans
        free = [a for a in every if not self.placed[a].fixed]
        if not free:
            return []
        first = min(int(spans[a].starts[0]) for a in free)
        last = max(int(spans[a].ends[-1]) for a in free)
        return [a for a in every if int(spans[a].ends[-1]) > first and int(spans[a].starts[0]) < last]

    def place_all(self) -> None:
        """Make the variables of every activity, in the order of the network."""
        for activity in self.frame.network.activities:
            self.placed[activity.id] = self._place(activity)

    def _place(self, activity: Activity) -> Placed:
        spans = self.frame.spans[activity.id]
        model, name = self.model, activity.id
        if self.guarded:
            return self._place_guarded(activity, spans)
        if len(spans.starts) == 1:
            start, size = int(spans.starts[0]), int(spans.sizes[0])
            return Placed(start, start + size, None)
        start_var = model.new_int_var_from_domain(domain_of(spans.starts), name)
        sizes = np.unique(spans.sizes)
        if len(sizes) == 1:
            size = int(sizes[0])
            interval = model.new_fixed_size_interval_var(start_var, size, name)
            return Placed(start_var, start_var + size, interval)
        choices = self._choose_size(activity, spans, start_var, sizes)
        model.add_exactly_one(choices.values())
        return self._sized(activity, start_var, choices, domain_of(spans.ends))

    def _choose_size(
        self, activity: Activity, spans: Spans, start: cp_model.IntVar, sizes: Ticks
    ) -> dict[int, cp_model.IntVar]:
        choices = {int(n): self.model.new_bool_var(f"{activity.id} size {n}") for n in sizes}
        for size, chosen in choices.items():
            starts = domain_of(spans.starts[spans.sizes == size])
            self.model.add_linear_expression_in_domain(start, starts).only_enforce_if(chosen)
        return choices

    def _sized(
        self,
        activity: Activity,
        start: cp_model.IntVar,
        choices: dict[int, cp_model.IntVar],
        ends: cp_model.Domain,
    ) -> Placed:
        model, name = self.model, activity.id
        size = model.new_int_var_from_domain(cp_model.Domain.from_values(list(choices)), f"{name} size")
        end = model.new_int_var_from_domain(ends, f"{name} end")
        for value, chosen in choices.items():
            model.add(end - start == value).only_enforce_if(chosen)
            model.add(size == value).only_enforce_if(chosen)
        interval = model.new_interval_var(start, size, end, name)
        return Placed(start, end, interval)

    def _place_guarded(self, activity: Activity, spans: Spans) -> Placed:
        """Let an activity ignore its calendar, at the bare size of its work, unless that rule holds."""
        last = len(self.frame.axis)
        if activity.work == 0:
            start = self.model.new_int_var(0, last, activity.id)
            return Placed(start, start, self.model.new_fixed_size_interval_var(start, 0, activity.id))
        work = min(activity.work, last)
        start = self.model.new_int_var(0, last - work, activity.id)
        choices = self._choose_size(activity, spans, start, np.unique(spans.sizes))
        calendar = self.frame.network.calendars[activity.calendar]
        kept = self.guard(calendar.id, f"working hours: {calendar.name}")
        free = self.model.new_bool_var(f"{activity.id} any hours")
        self.model.add_exactly_one([*choices.values(), free])
        for literal in kept:
            self.model.add_implication(literal, free.negated())
        size = self.model.new_int_var_from_domain(cp_model.Domain.from_values([work, *choices]), f"{activity.id} size")
        end = self.model.new_int_var(0, last, f"{activity.id} end")
        for value, chosen in [*choices.items(), (work, free)]:
            self.model.add(end - start == value).only_enforce_if(chosen)
            self.model.add(size == value).only_enforce_if(chosen)
        return Placed(start, end, self.model.new_interval_var(start, size, end, activity.id))


def domain_of(ticks: Ticks) -> cp_model.Domain:
    """Return the domain of ascending ticks, joined into intervals."""
    breaks = np.flatnonzero(np.diff(ticks) > 1)
    first = ticks[np.concatenate(([0], breaks + 1))]
    last = ticks[np.concatenate((breaks, [len(ticks) - 1]))]
    return cp_model.Domain.from_intervals(np.stack((first, last), axis=1).tolist())


def only_if(constraint: cp_model.Constraint, literals: Iterable[Literal]) -> None:
    """Make a constraint hold only when all literals are true; with none it always holds."""
    needed = list(literals)
    if needed:
        constraint.only_enforce_if(needed)
