"""Contingency: working time beyond what quantities give, planned into the work of the job's own people and machines.

It is asked for by the site file (`margin`), or chosen for a plan as one percentage for all such work; whichever is
more counts. An inspector's look, outside work at an appointment, and waits get none. A party's work of one
kind is stretched as a whole, rounded up to whole ticks, and the ticks go to its pieces in proportion to their work.

Source: Sainte-Laguë's method of sharing out whole units: with more to share no piece ever gets less, so that a
larger percentage never shortens anything.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import replace

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.network.kind import Kind
from scheduler.network.model import Activity, Network
from scheduler.network.network_draft import SITE_FILE
from scheduler.site.margin_wanted import Margin
from scheduler.spoken import length

MOST_PERCENT = 200
"""Nobody plans more."""


def takes_contingency(activity: Activity) -> bool:
    """Tell whether a piece of work is done by people or machines of the job, who may need longer than planned."""
    return activity.work > 0 and activity.kind.takes_time and not activity.kind.by_others


def with_contingency(network: Network, percent: int) -> Network:
    """Return a network in which all work of the job's own people and machines has at least so much contingency.

    Each party's work of each kind is stretched by `percent`, rounded up to whole ticks. Work that has more
    by the site file keeps that.
    """
    if percent <= network.margin_percent:
        return network
    return replace(network, activities=stretched(network, lambda *_: percent), margin_percent=percent)


def with_margin_wanted(network: Network, margin: Margin) -> Network:
    """Return a network with the contingency that its site file asks for.

    Raises BadInput for each trade or kind named that none of its own work has.
    """
    own = [a for a in network.activities if takes_contingency(a)]
    faults = [
        *_unknown("by_trade", margin.by_trade, {a.trade for a in own if a.trade}),
        *_unknown("by_kind", margin.by_kind, {a.kind.value for a in own}),
    ]
    if faults:
        raise BadInput(faults)

    def wanted(trade: str, kind: Kind) -> int:
        named = [p[of] for p, of in ((margin.by_trade, trade), (margin.by_kind, kind.value)) if of in p]
        return max(named, default=margin.percent)

    least = min((wanted(a.trade, a.kind) for a in own), default=0)
    return replace(network, activities=stretched(network, wanted), margin_percent=least)


def _unknown(field: str, named: Iterable[str], known: Collection[str]) -> Iterator[Finding]:
    for name in (n for n in named if n not in known):
        text, required = "A margin is given for work that this site has not.", f"one of: {', '.join(sorted(known))}"
        yield Finding("margin.unknown-work", Severity.STOP, f"margin.{field}.{name}", text, name, required, SITE_FILE)


def stretched(network: Network, percent_of: Callable[[str, Kind], int]) -> tuple[Activity, ...]:
    """Return the activities of a network with the contingency [%] that `percent_of` gives for a trade and kind of work.

    What has more already keeps it.
    """
    found: dict[str, Activity] = {}
    for (trade, kind), group in own_work(network).items():
        works = [a.work - a.contingency for a in group]
        total = -(-sum(works) * percent_of(trade, kind) // 100)
        if total > sum(a.contingency for a in group):
            for activity, extra in zip(group, shared_out(works, total), strict=True):
                found[activity.id] = _with(activity, extra, network.clock.tick_minutes)
    return tuple(found.get(a.id, a) for a in network.activities)


def own_work(network: Network) -> dict[tuple[str, Kind], list[Activity]]:
    """Return all work that takes contingency, by its trade and kind."""
    groups: dict[tuple[str, Kind], list[Activity]] = {}
    for activity in network.activities:
        if takes_contingency(activity):
            groups.setdefault((activity.trade, activity.kind), []).append(activity)
    return groups


def _with(activity: Activity, extra: int, tick_minutes: int) -> Activity:
    """Return a piece of work with so many ticks of contingency, and a sentence that says so."""
    because = activity.because.split(_SAID)[0]
    said = f"{_SAID} {length(extra * tick_minutes)}, its share of what this kind of work gets." if extra else ""
    work = activity.work - activity.contingency + extra
    return replace(activity, work=work, contingency=extra, because=f"{because}{said}".strip())


_SAID = " Contingency:"


def shared_out(works: Sequence[int], total: int) -> list[int]:
    """Return how many of `total` ticks each of several works [ticks, more than 0] gets, in proportion."""
    given = [0] * len(works)
    waiting = [(-float(work), i) for i, work in enumerate(works)]
    heapq.heapify(waiting)
    for _ in range(total if works else 0):
        _, i = waiting[0]
        given[i] += 1
        heapq.heapreplace(waiting, (-works[i] / (2 * given[i] + 1), i))
    return given
