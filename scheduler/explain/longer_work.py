"""What a plan does when all own work takes longer than quantities give, everybody keeping their turn.

No one begins before the planned time, and nothing is planned anew: a re-planning may do better, never worse.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace

from scheduler.audit import audit
from scheduler.explain.sequence import Sequence, sequence_of
from scheduler.network.contingency import with_contingency
from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.solve.formulation.dated import dated

MOST_PERCENT = 50
"""No more is asked about: whoever needs half as long again has another job."""
TOLD_PERCENT = 10
"""How much longer the work is taken to be where one figure must do: usual work, slowed by usual trouble."""


def borne_percent(network: Network, schedule: Schedule) -> int:
    """Return how much longer than quantities give [%] all own work may take in a plan, its finish kept.

    At least what is planned into the work; above that, `MOST_PERCENT` at most. With so much the dates audit clean, and
    nothing more is broken that may be at a price. `schedule` must audit clean itself.
    """
    turns, planned = sequence_of(network, schedule), network.margin_percent
    if planned >= MOST_PERCENT or not _stands(network, schedule, turns, planned + 1):
        return planned
    more = range(planned + 2, MOST_PERCENT + 1)
    return planned + 1 + bisect_right(more, False, key=lambda p: not _stands(network, schedule, turns, p))


def finish_with_longer_work(network: Network, schedule: Schedule, percent: int, begin: int = 0) -> int | None:
    """Return when the job ends if own work takes so much longer [%]; None when the hours known run out.

    What began before the tick `begin` takes as long as planned. Visits are missed and dates broken where the work
    comes late, as with every upset (`upsets.py`).
    """
    arcs = tuple(a.link for a in sequence_of(network, schedule).arcs)
    longer = _longer(network, schedule, percent, begin)
    pushed = Propagation(longer, arcs, bounds=lower(longer).floors).forward(_begins(schedule))
    return None if pushed is None else max(finish for _, finish in pushed.values())


def _longer(network: Network, schedule: Schedule, percent: int, begin: int) -> Network:
    """Return a network in which own work that begins from a tick on takes longer."""
    longer = with_contingency(network, percent)
    later = [
        new if schedule.dates[new.id][0] >= begin and not new.happened else old
        for old, new in zip(network.activities, longer.activities, strict=True)
    ]
    return replace(longer, activities=tuple(later))


def _stands(network: Network, plan: Schedule, turns: Sequence, percent: int) -> bool:
    """Tell whether the finish stands, and every rule is kept, with so much longer work [%]."""
    longer = with_contingency(network, percent)
    unbroken = tuple(b for b in turns.kept if b.price is not None)
    arcs = tuple(arc.link for arc in turns.arcs)
    dates = Propagation(longer, arcs, unbroken, turns.renewals).forward(_begins(plan))
    if dates is None or max(finish for _, finish in dates.values()) > plan.finish:
        return False
    return not audit(longer, dated(longer, dates))


def _begins(plan: Schedule) -> dict[str, int]:
    return {a: start for a, (start, _) in plan.dates.items()}
