"""Plans of one job to choose from, each whole and audited: none of them is worse in everything than another.

Each aim names the plan best at it of all that were found: so no choice is cheaper than the one called cheapest. Plans
that another is as good as in everything, and better in something, are left out (non-dominated plans).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from scheduler.costs.charges import UNPAVED, charges
from scheduler.costs.counted import count as times
from scheduler.costs.counted import days_at_work, person_visits, trips
from scheduler.measures import exposure
from scheduler.network.model import Network
from scheduler.planning import Planned
from scheduler.solve.goals import Cost
from scheduler.spoken import count, moment
from scheduler.steadiness import moves_between_stretches
from scheduler.units import format_nights, in_length_unit, nights_unit


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
    least_open: tuple[tuple[float, float], ...] = ()
    """What is proved: no plan that ends so many days past the earliest finish has less open trench [ft nights]."""
    known: str = ""
    """What is known of its margin, of yet more of it, and of yet less open trench: sentences."""

    @property
    def name(self) -> str:
        """What it is asked for by: the short name of its first aim."""
        return self.aims[0].name.lower()

    @property
    def said(self) -> str:
        """What differs from the first of the choices, and what is known beside that."""
        return f"{self.differs} {self.known}".strip()


Found = tuple[Planned, ChoiceMeasures]


def choose(network: Network, found: Sequence[Found]) -> tuple[PlanChoice, ...]:
    """Return the plans that no other beats, each with the aims that it is best at; `found` begins with the earliest."""
    measured = {i: m for i, (_, m) in enumerate(found)}
    beaten = {i for i, m in measured.items() if any(other.beats(m) for other in measured.values())}
    left = [i for i in measured if i not in beaten]
    aims: dict[int, list[ChoiceAim]] = {}
    for aim in ChoiceAim:
        best = min(left, key=_key(aim, measured, network))
        aims.setdefault(best, []).append(aim)
    (first, *_) = aims
    said = {i: differs(network, measured[i], measured[first], aims[i]) for i in aims if i != first}
    return tuple(PlanChoice(tuple(aims[i]), *found[i], said.get(i, "")) for i in aims)


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

    `year` has the finish told with its year. What a plan bears is how much longer all own work may take in its own
    order, its finish kept.
    """
    nights = nights_unit()
    head = ("plan", "will finish", "money", f"open, {nights}", f"unpaved, {nights}")
    rows: list[tuple[str, ...]] = [(*head, "visits", "trips", "crew days", "changes of stretch", "margin", "bears")]
    for choice in choices:
        m = choice.measures
        lengths = (f"{in_length_unit(feet):,.0f}" for feet in (m.ft_nights, m.unpaved))
        counts = (str(n) for n in (m.visits, m.trips, m.crew_days, m.moves))
        bears = "-" if (margin := choice.planned.plan.margin) is None else f"{margin.borne_percent} %"
        finished = moment(choice.planned.case.network.clock.when(m.finish), year=year)
        rows.append((", ".join(choice.aims), finished, f"${m.money:,.0f}", *lengths, *counts, f"{m.margin} %", bears))
    return rows


def open_trench_known(choices: Sequence[PlanChoice]) -> str:
    """Say how little open trench the plans leave, how little any can, and how far apart that is; '' where not known."""
    least = next((c for c in choices if ChoiceAim.TRENCH in c.aims), None)
    if least is None or not least.least_open:
        return ""
    reached = least.measures.ft_nights
    said = [f"Open trench: {format_nights(reached)}"]
    for days, bound in least.least_open:
        ends = f"that ends up to {count(round(days), 'day')} later" if days else "with the earliest finish"
        below = f" ({100 * (reached - bound) / reached:.0f} % below)" if reached > bound else ""
        said.append(f"no plan {ends} has less than {format_nights(bound)}{below}")
    return f"{'; '.join(said)}."


def money_by_line(choices: Sequence[PlanChoice]) -> list[tuple[str, list[float]]]:
    """Return the words of each line of what plans cost, and what it comes to in each of them [dollars]."""
    bills = [{line.id: line for line in c.planned.plan.costs.lines} for c in choices if c.planned.plan.costs]
    words = {id_: line.words for bill in bills for id_, line in bill.items()}
    return [(said, [bill[id_].amount if id_ in bill else 0.0 for bill in bills]) for id_, said in words.items()]


def measures(planned: Planned) -> ChoiceMeasures:
    """Return what a plan with dates amounts to."""
    network, schedule = planned.case.network, planned.schedule
    assert schedule is not None
    unpaved = (times(network, schedule, c.counted) / c.per for c in charges(network) if c.id == UNPAVED)
    work: dict[str, list[str]] = {}
    for a in network.activities:
        if a.trade and a.work:
            work.setdefault(a.trade, []).append(a.id)
    return ChoiceMeasures(
        finish=schedule.finish,
        money=Cost().amount(network, schedule) / Cost.per_unit,
        ft_nights=round(exposure(network, schedule.dates), 1),
        unpaved=sum(unpaved),
        visits=person_visits(network, schedule),
        trips=trips(network, schedule),
        crew_days=sum(len(days_at_work(network, ids, schedule.dates)) for ids in work.values()),
        moves=moves_between_stretches(network, schedule.dates),
        margin=network.margin_percent,
    )


def differs(network: Network, plan: ChoiceMeasures, first: ChoiceMeasures, aims: Sequence[ChoiceAim]) -> str:
    """Say in one sentence what differs from the first plan: what a plan is chosen for, then what it costs."""
    said = {
        ChoiceAim.VISITS: _comings_said(plan, first),
        ChoiceAim.MARGIN: f"{plan.margin} % more time for all own work" if plan.margin > first.margin else "",
        ChoiceAim.TRENCH: _more(
            in_length_unit(plan.ft_nights - first.ft_nights), f"{{:,.0f}} {nights_unit()} of open trench"
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
