"""The search for plans to choose from: first a few looks, each for another aim, and then as long as somebody wants.

The plan that finishes earliest comes first; the others begin from the plans found before them. What each aim makes
small is bettered from the plan that is best at it so far.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import count

from scheduler.audit import audit
from scheduler.case import Case, units_of
from scheduler.choosing import ChoiceAim, Found, PlanChoice, choose, measures, open_trench_known
from scheduler.margin_said import margin_borne, who_has_margin
from scheduler.network.model import Network
from scheduler.planning import Planned, plan, planned_of
from scheduler.schedule import Schedule
from scheduler.solve.formulation.dated import dated
from scheduler.solve.goals import Cost, Exposure, Goal, Money, VisitsAndTrips
from scheduler.solve.improvement.neighbourhoods import WHOLE_SEARCHES, is_small
from scheduler.solve.margin import LIMIT, MostMargin, most_margin
from scheduler.solve.outcome import Options, Outcome, Progress
from scheduler.solve.run import pursue_from
from scheduler.units import Units, in_units_of

LATER_DAYS = 2.0
"""How far past its best the finish may go for fewer visits and trips, for less open trench and for less money."""
MARGIN_DAYS = (0, 1, 2, 5)
"""Days past its best, tried in turn until the work can have as much margin as is worth while."""
WORTH_WHILE = 10
"""Contingency [%] for which no later finish is tried."""
FINISH_SHARE = 0.25
"""Of the effort for the finish, the part in which each percentage of margin is looked for."""
STEADY_SHARE = 0.125
"""Of the effort for steady work in the first plan, the part for each further plan."""
WHOLE_SHARE, PARTS_SHARE = 0.5, 0.25
"""Of the effort for open trench in the first plan, the part for what a further plan makes small.

The first where the job is searched whole; the same effort takes longer where it is searched part by part. Visits and
trips get half of it in each of two looks, money twice as much. Chosen so that first plan and choices take about 20 s on
the small site and 60 s on the street, on two cores (`python -m tests.benchmarks.plan_figures`).
"""
THEN_SHARE = 0.125
"""The same for money, once what the further plan makes small is reached."""

BOUND_TIMES = {1: 8.0, 2: 32.0}
"""By turn of looking on, how many times the share of effort goes into what is proved of open trench; then none."""


def _case_of(search: ChoiceSearch) -> Units:
    return units_of(search.case)


@in_units_of(units_of)
def choices(
    case: Case,
    options: Options | None = None,
    *,
    first: Planned | None = None,
    progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
) -> Iterator[tuple[PlanChoice, ...]]:
    """Yield the plans to choose from again and again as they come, the last time all of them.

    Parameters
    ----------
    case
        The site, as `load` returns it.
    options
        Efforts; the further plans get shares of those for the finish, for open trench and for steady work.
    first
        The plan that finishes earliest, where it is there already: made by `plan` with the same options.
    progress, stop
        As for `plan`. Stopped, it ends with what is found by then.

    Yields
    ------
    tuple[PlanChoice, ...]
        At first the plan that finishes earliest alone; each time with one more plan looked at, so that a plan may be
        replaced by a better one. Nothing where the job has no plan.
    """
    yield from ChoiceSearch(case, options, first=first, progress=progress).looks(stop)


class ChoiceSearch:
    """The plans to choose from found so far, and how each further one is looked for."""

    def __init__(
        self,
        case: Case,
        options: Options | None = None,
        *,
        first: Planned | None = None,
        progress: Callable[[Progress], None] | None = None,
    ) -> None:
        """Take a site; `first` is the plan that finishes earliest, where it is there already (see `choices`)."""
        self.case, self._options, self._progress = case, options or Options(), progress
        self._first, self._stop = first, threading.Event()
        self._share = WHOLE_SHARE if is_small(case.network) else PARTS_SHARE
        self._begun: Outcome
        """The job looked at for its finish, without more margin than its site asks for."""
        self._found: list[Found] = []
        self._tried: list[tuple[int, MostMargin]] = []
        """The most margin found by each finish that was tried [tick]."""
        self._least_open: dict[float, float] = {}
        """By how many days past the earliest finish a plan may end: none has less open trench [ft nights]."""

    @in_units_of(_case_of)
    def looks(self, stop: threading.Event | None = None) -> Iterator[tuple[PlanChoice, ...]]:
        """Look for margin, fewer visits, less open trench, less money; yield the choices after each; see `choices`.

        The balance in money is one of the plans found so.
        """
        self._stop = stop or threading.Event()
        first = self._first or plan(self.case, self._options, progress=self._progress, stop=stop)
        if first.schedule is None or first.outcome is None or first.broken:
            return
        self._found.append((first, measures(first)))
        self._begun = first.outcome
        if first.case.network.margin_percent > self.case.network.margin_percent:  # others may do without
            alone = replace(self._options, only_finish=True, free_margin=0)
            begun = plan(self.case, alone, progress=self._progress, stop=stop).outcome
            self._begun = first.outcome if begun is None or begun.schedule is None else begun
        else:
            self._bound(first.outcome, self._options.slack_days)
        yield self.chosen()
        for look in (self._margin, self._visits, self._trench, self._money):
            if not self._stop.is_set():
                look()
                yield self.chosen()

    @in_units_of(_case_of)
    def keep_looking(self, stop: threading.Event, *, workers: int | None = None) -> Iterator[tuple[PlanChoice, ...]]:
        """Go on looking after `looks`, with other chance numbers each time, until stopped; yield after each look.

        In turn for less open trench at the earliest finish, for less with `LATER_DAYS` more, for fewer visits and
        trips and for less money, each from the best plan known. `workers` is how many searches run side by side.
        Ends by itself only where there is no plan to go on from.
        """
        self._stop, begun = stop, self._options
        for turn in count(1):
            seed = begun.seed + WHOLE_SEARCHES * turn
            share = BOUND_TIMES.get(turn, 0.0) * begun.bound_share
            self._options = replace(begun, seed=seed, workers=workers or begun.workers, bound_share=share)
            for look in (self._trench_at_finish, self._trench, self._visits, self._money):
                if stop.is_set() or not self._found:
                    return
                look()
                yield self.chosen()
            self._forget()

    def chosen(self) -> tuple[PlanChoice, ...]:
        """Return the plans found that no other beats, each with the aims it is best at and what is known beside."""
        chosen = choose(self.case.network, self._found)
        bounded = [replace(c, least_open=tuple(sorted(self._least_open.items()))) for c in chosen]
        return tuple(replace(c, known=" ".join(filter(None, self._known(c)))) for c in bounded)

    def _forget(self) -> None:
        """Forget the plans that another beats, but for the first, so that long looking keeps no more and more."""
        ranks = [m for _, m in self._found]
        self._found = [f for i, f in enumerate(self._found) if i == 0 or not any(m.beats(f[1]) for m in ranks)]

    def _margin(self) -> None:
        """Look for the most margin under the earliest finish, or else under a finish somewhat later."""
        few = replace(self._options, finish_effort=FINISH_SHARE * self._options.finish_effort)
        for days in MARGIN_DAYS:
            by = self._last(days)
            most = most_margin(self.case.network, self._begun, by, few, self._progress, self._stop)
            if self._stop.is_set():
                break
            self._tried.append((by, most))
            if most.percent >= WORTH_WHILE:
                break
        if most.percent > self.case.network.margin_percent and most.outcome.schedule is not None:
            begun, days = most.outcome, max(MARGIN_DAYS)
            start, goals = most.outcome.schedule, (Exposure(), Money())
            outcome = self._pursue(most.network, begun, start, goals, self._share, days)
            self._keep(self.case.with_margin(most.percent), outcome)

    def _visits(self) -> None:
        """Look for fewer visits and trips: first with the earliest finish, which often has room for the fewest."""
        for days in (0.0, LATER_DAYS):
            self._from_best(VisitsAndTrips(), self._share / 2, days)

    def _trench(self, days: float = LATER_DAYS) -> None:
        """Look for less open trench."""
        self._from_best(Exposure(), self._share, days)

    def _trench_at_finish(self) -> None:
        """Look for less open trench with the earliest finish."""
        self._trench(days=0.0)

    def _money(self) -> None:
        """Look for less money, from the cheapest plan on."""
        self._from_best(Cost(), 2 * self._share)

    def _last(self, days: float) -> int:
        """Return the tick by which a plan ends that may end so many days past the earliest finish."""
        schedule = self._begun.schedule
        assert schedule is not None
        return schedule.finish + self.case.network.clock.ticks(days=days)

    def _from_best(self, goal: Goal, share: float, days: float = LATER_DAYS) -> None:
        """Better the plan that is best by a goal; where that is done, then by its cost."""
        network = self.case.network
        known = (p.schedule for p, m in self._found if p.schedule is not None and m.finish <= self._last(days))
        plans = (_with_less_work(network, schedule) for schedule in known)
        soonest = self._begun.schedule
        assert soonest is not None
        start = min((p for p in plans if p is not None), key=lambda p: goal.amount(network, p), default=soonest)
        goals = [goal] if isinstance(goal, Cost) else [goal, Cost()]
        outcome = self._pursue(network, self._begun, start, goals, share, days, only_if_better=True)
        self._keep(self.case, outcome)
        self._bound(outcome, days)

    def _bound(self, outcome: Outcome, days: float) -> None:
        """Keep what an outcome proves of the least open trench."""
        for stage in (s for s in outcome.stages if s.name == Exposure.name):
            self._least_open[days] = max(stage.bound, self._least_open.get(days, 0.0))

    def _pursue(
        self,
        network: Network,
        begun: Outcome,
        start: Schedule,
        goals: Sequence[Goal],
        share: float,
        days: float,
        *,
        only_if_better: bool = False,
    ) -> Outcome:
        shares = [share, *[THEN_SHARE] * len(goals)]
        weighed = [(g, s * self._options.exposure_effort) for g, s in zip(goals, shares, strict=False)]
        return pursue_from(
            network,
            begun,
            start,
            weighed,
            days=days,
            options=replace(self._options, steady_effort=STEADY_SHARE * self._options.steady_effort),
            only_if_better=only_if_better,
            progress=self._progress,
            stop=self._stop,
        )

    def _keep(self, case: Case, outcome: Outcome) -> None:
        planned = planned_of(case, outcome)
        if planned.schedule is not None and not planned.broken:
            self._found.append((planned, measures(planned)))

    def _known(self, choice: PlanChoice) -> Iterator[str]:
        """Yield what is known of a choice beside what it amounts to, in sentences."""
        plan, moment_of, wanted = choice.planned.plan, self.case.network.clock.spoken, self.case.network.margin_percent
        if ChoiceAim.EARLIEST in choice.aims:
            yield margin_borne(plan)
            yield from (_beyond(most, moment_of(by)) for by, most in self._tried[:1] if most.percent <= wanted)
        if choice.measures.margin:
            yield who_has_margin(plan, {t.id: t.name for t in self.case.site.trades})
        if ChoiceAim.MARGIN in choice.aims:
            tried = (t for t in self._tried[-1:] if choice.measures.margin == t[1].percent > wanted)
            yield from (_beyond(most, moment_of(by)) for by, most in tried)
        if ChoiceAim.TRENCH in choice.aims:
            yield open_trench_known((choice,))


def _beyond(most: MostMargin, by: str) -> str:
    """Say what is known of yet more margin under a finish."""
    if most.beyond is None:
        return f"More than {LIMIT} % was not looked for."
    return f"{most.beyond} % by {by} {'is proved impossible' if most.proved else 'was looked for and not found'}."


def _with_less_work(network: Network, schedule: Schedule) -> Schedule | None:
    """Return dates with the same starts and the shorter work of a network; None where they break a rule."""
    dates = {}
    for a in network.activities:
        start, finish = schedule.dates[a.id]
        ends = network.calendar_of(a.id).advance(start, a.work)
        dates[a.id] = (start, finish if ends is None else ends)
    shorter = dated(network, dates)
    return None if audit(network, shorter) else shorter
