"""Who is to come when, by a plan: visits day by day, outside work, and the stays of trades."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from scheduler.network.model import Network
from scheduler.network.parties import Party
from scheduler.plan import Plan
from scheduler.schedule import Span


@dataclass(frozen=True, slots=True)
class Coming:
    """One day, or half of one, on which somebody is to come, from when on, and what for."""

    of: str
    start: int
    """Tick at which the first of it begins."""
    activities: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlannedWork:
    """One row of a plan in ticks, as far as it matters for who comes."""

    id: str
    trade: str
    """Empty unless it is work that takes somebody's time."""
    span: Span


def planned_work(network: Network, plan: Plan) -> list[PlannedWork]:
    """Return the rows of a plan, in order of time."""
    tick = network.clock.tick
    rows = [
        PlannedWork(a.id, a.trade if a.kind.takes_time else "", (tick(a.start), tick(a.finish)))
        for a in plan.activities
    ]
    return sorted(rows, key=lambda r: (r.span, r.id))


def comings(
    network: Network, party: Party, rows: Iterable[PlannedWork], left: Collection[str], now: int
) -> list[Coming]:
    """Return when a party that is no trade is to come from a tick on, for what is `left` to do: by day or half-day."""
    days: dict[str, list[PlannedWork]] = {}
    for row in rows:
        if row.id in party.activities and row.id in left and row.span[0] >= now:
            days.setdefault(party.day_key(network.clock.when(row.span[0])), []).append(row)
    return [Coming(party.of, min(r.span[0] for r in day), tuple(r.id for r in day)) for day in days.values()]


def stays(
    network: Network, party: Party, rows: Iterable[PlannedWork], left: Collection[str], now: int, stay_days: int
) -> list[Coming]:
    """Return the first days, from a tick on, of the runs of days that a trade comes for.

    It stays while no more than `stay_days` days lie between its days on site.
    """
    on_site: date | None = None
    found = []
    theirs = [r for r in rows if r.trade == party.of]
    for row in theirs:
        first, last = _days(network, row.span)
        gone = on_site is None or (first - on_site).days - 1 > stay_days
        if gone and row.span[0] >= now and row.id in left:
            found.append(Coming(party.of, row.span[0], _that_day(network, theirs, left, row.span[0])))
        on_site = last if on_site is None else max(on_site, last)
    return found


def next_coming(
    network: Network, party: Party, rows: Iterable[PlannedWork], left: Collection[str], now: int
) -> Coming | None:
    """Return the next day on which a trade begins something, from a tick on; None when nothing is left for it."""
    theirs = [r for r in rows if r.trade == party.of]
    first = next((r for r in theirs if r.span[0] >= now and r.id in left), None)
    if first is None:
        return None
    return Coming(party.of, first.span[0], _that_day(network, theirs, left, first.span[0]))


def _that_day(network: Network, rows: Iterable[PlannedWork], left: Collection[str], start: int) -> tuple[str, ...]:
    """Return what begins from a tick to the end of its day."""
    day = network.clock.when(start).date()
    return tuple(
        r.id for r in rows if r.id in left and r.span[0] >= start and network.clock.when(r.span[0]).date() == day
    )


def _days(network: Network, span: Span) -> tuple[date, date]:
    """Return the first and last day of a span."""
    last = max(span[0], span[1] - 1)
    return network.clock.when(span[0]).date(), network.clock.when(last).date()
