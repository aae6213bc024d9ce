"""What must stand open at one time whatever the dates, counted from the order of the work alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import reduce
from graphlib import TopologicalSorter
from operator import or_

from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.network.normal import Capacity, Use


@dataclass(frozen=True, slots=True)
class OpenTogether:
    """What is open during one activity by the order of the work alone, and more of it than a limit allows."""

    limit: Capacity
    during: str
    uses: tuple[Use, ...]

    @property
    def units(self) -> int:
        """How much it is: feet, or a count."""
        return sum(use.units for use in self.uses)


def open_together(network: Network) -> list[OpenTogether]:
    """Return, for each limit that the order of the work alone cannot keep, where it asks for the most at one time.

    A stretch is open during an activity that comes after what opens it and before what closes it. A test over a whole
    line, for one, comes after all of it is laid and before any of it is covered. What happened comes before all that
    has not: what has been dug and is not covered stands open. No plan exists where any is returned.
    Raises graphlib.CycleError when activities wait for one another in a circle.
    """
    normal = lower(network)
    counted = [c for c in normal.capacities if c.has_stretches and sum(use.units for use in c.uses) > c.units]
    if not counted:
        return []
    before: dict[str, list[str]] = {a.id: [] for a in network.activities}
    for link in normal.links:
        if link.keeps_apart:
            before[link.after].append(link.before)
    order = list(TopologicalSorter(before).static_order())
    past = {a.id for a in network.activities if a.happened}
    during = [a.id for a in network.activities if a.work > 0 and a.id not in past]
    most = (_most(capacity, before, order, past, during) for capacity in counted)
    return [found for found in most if found is not None and found.units > found.limit.units]


def _most(
    capacity: Capacity, before: dict[str, list[str]], order: list[str], past: set[str], during: list[str]
) -> OpenTogether | None:
    """Return the activity still to come during which the order of the work alone holds the most units."""
    uses = [use for use in capacity.uses if not use.is_work]
    begun, over = dict.fromkeys(order, 0), dict.fromkeys(order, 0)
    opens, closes = _bits(uses, first=True), _bits(uses, first=False)
    for activity in order:
        begun[activity] = opens.get(activity, 0)
        for earlier in before[activity]:
            begun[activity] |= begun[earlier]
    stands = reduce(or_, (opens.get(a, 0) for a in past), 0)
    for activity in reversed(order):
        over[activity] |= closes.get(activity, 0)
        for earlier in before[activity]:
            over[earlier] |= over[activity]
    held = {(begun[a] | stands) & over[a]: a for a in reversed(during)}
    found = [OpenTogether(capacity, a, tuple(_picked(uses, bits))) for bits, a in held.items()]
    return max(found, key=lambda f: (f.units, f.during), default=None)


def _bits(uses: list[Use], *, first: bool) -> dict[str, int]:
    """Return a bit for each use, by the activity that begins or ends it."""
    bits: dict[str, int] = {}
    for n, use in enumerate(uses):
        activity = use.first if first else use.last
        bits[activity] = bits.get(activity, 0) | 1 << n
    return bits


def _picked(uses: list[Use], bits: int) -> Iterator[Use]:
    return (use for n, use in enumerate(uses) if bits >> n & 1)
