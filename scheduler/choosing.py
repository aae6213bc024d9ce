"""Several plans of one job to choose from, each whole and audited: none of them is worse in everything than another.

The plan that finishes earliest comes first; the others begin from the plans found before them. What each aim makes
small is bettered from the plan that is best at it so far, and in the end each aim names the plan best at it of all
that were found: so no choice is cheaper than the one called cheapest. Plans that another is as good as in everything,
and better in something, are left out (non-dominated plans).
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from scheduler.audit import audit
from scheduler.case import Case, units_of
from scheduler.costs.charges import TENTHS
from scheduler.costs.counted import NightsBetween
from scheduler.costs.counted import count as times
from scheduler.measures import exposure, runs_on_site, worked
from scheduler.network.model import Network
from scheduler.planning import Planned, plan, planned_of
from scheduler.schedule import Schedule
from scheduler.shared_visits import person_days
from scheduler.solve.formulation.dated import dated
from scheduler.solve.goals import Cost, Exposure, Goal, Money, VisitsAndTrips
from scheduler.solve.improvement.neighbourhoods import is_small
from scheduler.solve.margin import LIMIT, STEP, MostMargin, most_margin
from scheduler.solve.outcome import Options, Outcome, Progress, stopped
from scheduler.solve.run import pursue_from
from scheduler.spoken import count, moment
from scheduler.steadiness import moves_between_stretches
from scheduler.units import in_length_unit, in_units_of, length_unit

LATER_DAYS = 2.0
"""How far past its best the finish may go for fewer visits and trips, for less open trench and for less money."""
MARGIN_DAYS = (0, 1, 2, 5)
"""Days past its best, tried in turn until the work can have as much margin as is worth while."""
WORTH_WHILE = 10
"""Contingency [%] for which no later finish is tried."""
SHARE, SECOND_SHARE = 0.5, 0.25
"""Of the effort for open trench in the first plan: for what a further plan makes small, and for its money."""
WHOLE_SHARE = 3.0
"""The same for visits and trips where the job is searched whole.

On the small site 16 are proved the fewest with this effort, in 4 seconds of one core; with two thirds of it the first
plan's 19 are not bettered.
"""


class ChoiceAim(StrEnum):
    """What a plan to choose is best at."""

    EARLIEST = "earliest finish"
    MONEY = "least money"
    VISITS = "fewest visits and trips"
    TRENCH = "least open trench"
    MARGIN = "most margin"
    BALANCE = "a balance in money"


@dataclass(frozen=True, slots=True)
class ChoiceMeasures:
    """What a plan amounts to, as far as it matters for choosing."""

    finish: int
    """Tick."""
    money: float
    ft_nights: float
    """Of open trench."""
    unpaved: float
    """Foot-nights of filled trench without its pavement."""
    visits: int
    trips: int
    """How often parties come to site: each for a run of days."""
    crew_days: int
    """Days that each trade is at work, summed up."""
    moves: int
    """How often crews and machines go from one stretch to another."""
    margin: int
    """Contingency in all work of the job's own people and machines [%]."""

    @property
    def ranked(self) -> tuple[float, ...]:
        """What makes one plan better than another, the smaller the better."""
        return (self.finish, self.money, self.ft_nights, self.unpaved, self.visits, self.trips, -self.margin)

    def beats(self, other: ChoiceMeasures) -> bool:
        """Tell whether it is as good in everything and better in something."""
        return self.ranked != other.ranked and all(a <= b for a, b in zip(self.ranked, other.ranked, strict=True))


@dataclass(frozen=True)
class PlanChoice:
    """A whole audited plan, what it is best at, and what differs from the first of the choices."""

    aims: tuple[ChoiceAim, ...]
    planned: Planned
    measures: ChoiceMeasures
    differs: str

    @property
    def name(self) -> str:
        """What it is asked for by: the short name of its first aim."""
        return self.aims[0].name.lower()


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
        Efforts; the further plans get shares of the effort for open trench.
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
    options = options or Options()
    first = first or plan(case, options, progress=progress, stop=stop)
    if first.schedule is None or first.outcome is None or first.broken:
        return
    search = _ChoiceSearch(case, first, first.outcome, options, progress, stop)
    yield search.chosen()
    for step in (search.margin, search.visits, search.trench, search.balance, search.money):
        if not stopped(stop):
            step()
            yield search.chosen()


class _ChoiceSearch:
    """The plans found so far, and how each further one is looked for."""

    def __init__(
        self,
        case: Case,
        first: Planned,
        begun: Outcome,
        options: Options,
        progress: Callable[[Progress], None] | None,
        stop: threading.Event | None,
    ) -> None:
        self._case, self._begun, self._options = case, begun, options
        self._progress, self._stop = progress, stop
        self._found = [first]
        self._most: MostMargin | None = None
        self._by = 0

    def margin(self) -> None:
        """Look for the most margin under the earliest finish, or else under a finish somewhat later."""
        first, clock = self._found[0].schedule, self._case.network.clock
        assert first is not None
        few = replace(self._options, finish_effort=SHARE * self._options.finish_effort)
        for days in MARGIN_DAYS:
            by = first.finish + clock.ticks(days=days)
            most = most_margin(self._case.network, self._begun, by, few, self._progress, self._stop)
            if most.percent >= WORTH_WHILE or stopped(self._stop):
                break
        if most.percent > self._case.network.margin_percent and most.outcome.schedule is not None:
            self._most, self._by = most, by
            start = most.outcome.schedule
            outcome = self._pursue(most.network, most.outcome, start, [Exposure(), Money()], max(MARGIN_DAYS))
            self._keep(self._case.with_margin(most.percent), outcome)

    def visits(self) -> None:
        """Look for fewer visits and trips."""
        self._from_best(VisitsAndTrips())

    def trench(self) -> None:
        """Look for less open trench."""
        self._from_best(Exposure())

    def balance(self) -> None:
        """Look for a plan with some of the margin there is and as little money as that takes."""
        if self._most is None or self._most.outcome.schedule is None:
            return
        percent = max(STEP, self._most.percent // 2 // STEP * STEP)
        case = self._case.with_margin(percent)
        start = _with_less_work(case.network, self._most.outcome.schedule)
        if start is not None:
            self._keep(case, self._pursue(case.network, self._begun, start, [Cost()], max(MARGIN_DAYS)))

    def money(self) -> None:
        """Look for less money, from the cheapest plan on."""
        self._from_best(Cost())

    def _from_best(self, goal: Goal) -> None:
        network, first = self._case.network, self._found[0].schedule
        assert first is not None
        last = first.finish + network.clock.ticks(days=LATER_DAYS)
        known = (p.schedule for p in self._found if p.schedule is not None and p.schedule.finish <= last)
        plans = (_with_less_work(network, schedule) for schedule in known)
        start = min((p for p in plans if p is not None), key=lambda p: goal.amount(network, p))
        goals = [goal] if isinstance(goal, Cost) else [goal, Cost()]
        self._keep(self._case, self._pursue(network, self._begun, start, goals, LATER_DAYS))

    def _pursue(self, network: Network, begun: Outcome, start: Schedule, goals: Sequence[Goal], days: float) -> Outcome:
        first = WHOLE_SHARE if isinstance(goals[0], VisitsAndTrips) and is_small(network) else SHARE
        shares = [first, *[SECOND_SHARE] * len(goals)]
        weighed = [(g, s * self._options.exposure_effort) for g, s in zip(goals, shares, strict=False)]
        return pursue_from(
            network, begun, start, weighed, days=days, options=self._options, progress=self._progress, stop=self._stop
        )

    def _keep(self, case: Case, outcome: Outcome) -> None:
        planned = planned_of(case, outcome)
        if planned.schedule is not None and not planned.broken:
            self._found.append(planned)

    def chosen(self) -> tuple[PlanChoice, ...]:
        """Return the plans found that no other beats, each with the aims that it is best at."""
        network = self._case.network
        measured = {i: measures(p) for i, p in enumerate(self._found)}
        beaten = {i for i, m in measured.items() if any(other.beats(m) for other in measured.values())}
        left = [i for i in measured if i not in beaten]
        aims: dict[int, list[ChoiceAim]] = {}
        for aim in ChoiceAim:
            best = min(left, key=_key(aim, measured, network))
            aims.setdefault(best, []).append(aim)
        (first, *_) = aims
        said = {i: [differs(network, measured[i], measured[first], aims[i])] for i in aims if i != first}
        for i in aims:
            if ChoiceAim.MARGIN in aims[i] and measured[i].margin:
                said.setdefault(i, []).append(self._beyond_said())
        return tuple(PlanChoice(tuple(aims[i]), self._found[i], measured[i], " ".join(said.get(i, []))) for i in aims)

    def _beyond_said(self) -> str:
        """Return what is known of yet more margin, in a sentence."""
        if self._most is None or self._most.beyond is None:
            return f"More than {LIMIT} % was not looked for."
        by = moment(self._case.network.clock.when(self._by))
        known = "is proved impossible" if self._most.proved else "was looked for and not found"
        return f"{self._most.beyond} % by {by} {known}."


def _key(aim: ChoiceAim, measured: dict[int, ChoiceMeasures], network: Network) -> Callable[[int], tuple[float, ...]]:
    """Return by what the plans are compared for an aim: the smaller the better."""
    days = (min(m.finish for m in measured.values()) - network.data_date) * network.clock.tick_minutes / 1440
    worth = (network.rates.overhead_per_day or 0.0) * days / 100

    def key(i: int) -> tuple[float, ...]:
        m = measured[i]
        match aim:
            case ChoiceAim.EARLIEST:
                by: tuple[float, ...] = (m.finish, i != 0, m.ft_nights)
            case ChoiceAim.MONEY:
                by = (m.money,)
            case ChoiceAim.VISITS:
                by = (m.visits + m.trips, m.money)
            case ChoiceAim.TRENCH:
                by = (m.ft_nights, m.money)
            case ChoiceAim.MARGIN:
                by = (-m.margin,)
            case ChoiceAim.BALANCE:
                # A percent of margin is worth what a percent of the job's days costs in overhead.
                by = (m.money - worth * m.margin,)
        return (*by, *m.ranked, i)

    return key


def side_by_side(choices: Sequence[PlanChoice], *, year: bool = False) -> list[tuple[str, ...]]:
    """Return a table of the choices, its headings first: each by all its aims, with what it amounts to.

    `year` has the finish told with its year.
    """
    nights = f"{length_unit()} nights"
    head = ("plan", "finished by", "money", f"open, {nights}", f"unpaved, {nights}")
    rows: list[tuple[str, ...]] = [(*head, "visits", "trips", "crew days", "changes of stretch", "margin")]
    for choice in choices:
        m = choice.measures
        lengths = (f"{in_length_unit(feet):,.0f}" for feet in (m.ft_nights, m.unpaved))
        counts = (str(n) for n in (m.visits, m.trips, m.crew_days, m.moves))
        finished = moment(choice.planned.case.network.clock.when(m.finish), year=year)
        rows.append((", ".join(choice.aims), finished, f"${m.money:,.0f}", *lengths, *counts, f"{m.margin} %"))
    return rows


def money_by_line(choices: Sequence[PlanChoice]) -> list[tuple[str, list[float]]]:
    """Return the words of each line of what plans cost, and what it comes to in each of them [dollars]."""
    bills = [{line.id: line for line in c.planned.plan.costs.lines} for c in choices if c.planned.plan.costs]
    words = {id_: line.words for bill in bills for id_, line in bill.items()}
    return [(said, [bill[id_].amount if id_ in bill else 0.0 for bill in bills]) for id_, said in words.items()]


def measures(planned: Planned) -> ChoiceMeasures:
    """Return what a plan with dates amounts to."""
    network, schedule = planned.case.network, planned.schedule
    assert schedule is not None
    unpaved = tuple((o.opens, o.closes, round(TENTHS * o.length_ft)) for o in network.unpaved)
    days = {
        (a.trade, network.clock.when(start).date())
        for a in network.activities
        if a.trade and a.work
        for start, _ in worked(network, a.id, schedule.dates[a.id])
    }
    return ChoiceMeasures(
        finish=schedule.finish,
        money=Cost().amount(network, schedule) / Cost.per_unit,
        ft_nights=round(exposure(network, schedule.dates), 1),
        unpaved=times(network, schedule, NightsBetween(unpaved, "finish")) / TENTHS,
        visits=person_days(network, schedule),
        trips=sum(runs_on_site(network, m, schedule.dates) for m in network.mobilisations),
        crew_days=len(days),
        moves=moves_between_stretches(network, schedule.dates),
        margin=network.margin_percent,
    )


def _with_less_work(network: Network, schedule: Schedule) -> Schedule | None:
    """Return dates with the same starts and the shorter work of a network; None where they break a rule."""
    dates = {}
    for a in network.activities:
        start, finish = schedule.dates[a.id]
        ends = network.calendar_of(a.id).advance(start, a.work)
        dates[a.id] = (start, finish if ends is None else ends)
    shorter = dated(network, dates)
    return None if audit(network, shorter) else shorter


def differs(network: Network, plan: ChoiceMeasures, first: ChoiceMeasures, aims: Sequence[ChoiceAim]) -> str:
    """Say in one sentence what differs from the first plan: what a plan is chosen for, then what it costs."""
    said = {
        ChoiceAim.VISITS: _comings_said(plan, first),
        ChoiceAim.MARGIN: f"{plan.margin} % more time for all own work" if plan.margin > first.margin else "",
        ChoiceAim.TRENCH: _more(
            in_length_unit(plan.ft_nights - first.ft_nights), f"{{:,.0f}} {length_unit()} nights of open trench"
        ),
        ChoiceAim.MONEY: _more(plan.money - first.money, "${:,.0f}"),
        ChoiceAim.EARLIEST: _later_said(network, plan.finish, first.finish),
    }
    order = [*[a for a in aims if said.get(a)], *[a for a in said if a not in aims and said[a]]]
    head, rest = said[order[0]] if order else "", [said[a] for a in order[1:]]
    text = f"{head}: {', '.join(rest)}" if head and rest else head or "The same in all that counts"
    return f"{text[0].upper()}{text[1:]}."


def _comings_said(plan: ChoiceMeasures, first: ChoiceMeasures) -> str:
    visits = f"{count(plan.visits, 'visit')} instead of {first.visits}" if plan.visits != first.visits else ""
    trips = f"{count(plan.trips, 'trip')} instead of {first.trips}" if plan.trips != first.trips else ""
    return " and ".join(filter(None, [visits, trips]))


def _more(amount: float, words: str) -> str:
    return "" if abs(amount) < 0.5 else f"{words.format(abs(amount))} {'more' if amount > 0 else 'less'}"


def _later_said(network: Network, finish: int, first: int) -> str:
    days = network.clock.when(finish).date() - network.clock.when(first).date()
    if finish == first:
        return "the same finish"
    if not days.days:
        return f"finished {moment(network.clock.when(finish))}"
    return f"{count(abs(days.days), 'day')} {'later' if finish > first else 'sooner'}"
