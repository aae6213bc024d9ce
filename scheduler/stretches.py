"""How far each stretch of trench is at a moment: not dug, open, laid, inspected or covered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from scheduler.network.kind import Kind
from scheduler.network.model import Activity, Network, Opening
from scheduler.schedule import Span


class StretchState(StrEnum):
    """How far a stretch is, in the trade's words."""

    NOT_DUG = "not dug"
    OPEN = "open"
    LAID = "lines laid"
    INSPECTED = "inspected"
    COVERED = "covered"


@dataclass(frozen=True, slots=True)
class TrenchStretch:
    """One stretch of trench that is covered as a whole, by stations [ft], and how far it is."""

    opening: str
    reach: str
    alignment: str
    from_ft: float
    to_ft: float
    state: StretchState


def stretches(network: Network, dates: Mapping[str, Span], tick: int) -> list[TrenchStretch]:
    """Return every stretch of trench with its state at a tick, in the order of the network's openings.

    Laid: every line in it lies. Inspected: every look before the last fill was made as well, so
    that nothing but filling is left. Inspections of the finished surface do not count.
    """
    return [_stretch(network, dates, opening, tick) for opening in network.openings]


def _stretch(network: Network, dates: Mapping[str, Span], opening: Opening, tick: int) -> TrenchStretch:
    closes = network.by_id[opening.closes]
    inside = [a for a in network.activities if a.reach == opening.reach and _meets(a, closes)]
    laying = [a.id for a in inside if a.kind is Kind.LAY]
    looks = {h.look for h in network.holds if opening.closes in h.gates} | {
        a.id for a in inside if a.kind.is_look and dates[a.id][0] < dates[opening.closes][1]
    }
    if tick < dates[opening.opens][0]:
        state = StretchState.NOT_DUG
    elif tick >= dates[opening.closes][1]:
        state = StretchState.COVERED
    elif any(dates[a][1] > tick for a in laying):
        state = StretchState.OPEN
    elif any(dates[a][1] > tick for a in looks):
        state = StretchState.LAID
    else:
        state = StretchState.INSPECTED if looks else StretchState.LAID
    return TrenchStretch(opening.id, opening.reach, closes.alignment, closes.from_ft, closes.to_ft, state)


def _meets(one: Activity, other: Activity) -> bool:
    return one.from_ft < other.to_ft and other.from_ft < one.to_ft
