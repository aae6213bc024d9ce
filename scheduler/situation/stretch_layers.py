"""How far each stretch of trench is, layer by layer: as recorded, and apart from that as the plan has it by then."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from scheduler.network.kind import Kind
from scheduler.network.model import Activity, Network, Opening
from scheduler.situation.work_states import WorkStands, WorkState


class LayerState(StrEnum):
    """How far a layer of a stretch is, in the trade's words, from nothing done to the end."""

    NOT_DUG = "not dug"
    DUG = "dug"
    LAID = "lines laid"
    TESTED = "tested"
    SEEN = "inspected"
    COVERED = "covered"


FURTHER = tuple(LayerState)


@dataclass(frozen=True, slots=True)
class StretchStands:
    """One layer of a stretch of trench that is covered as a whole, by stations [ft]."""

    opening: str
    reach: str
    alignment: str
    from_ft: float
    to_ft: float
    layer: int | None
    """None where nothing is laid in layers."""
    lines: tuple[str, ...]
    recorded: LayerState
    planned: LayerState
    """What the plan in force has by the moment; as recorded where there is no plan."""
    digging: bool = False
    """Its dig is recorded begun and not finished."""
    failed: tuple[str, ...] = ()
    """Looks and tests of it that failed and have not passed since."""
    closed: bool = False
    """The whole stretch is recorded filled, not this layer alone."""

    @property
    def behind(self) -> bool:
        """Whether the record has it less far than the plan has it by now: late, or not reported."""
        return FURTHER.index(self.recorded) < FURTHER.index(self.planned)


def layer_states(network: Network, work: Mapping[str, WorkStands], moment: datetime) -> tuple[StretchStands, ...]:
    """Return every layer of every stretch with its state at an aware moment, in the order of the network's openings."""
    found = []
    over_reaches = _tests_over_reaches(network)
    for opening in network.openings:
        closes = network.by_id[opening.closes]
        inside = [a for a in network.activities if a.reach == opening.reach and _meets(a, closes)]
        layers: list[int | None] = []
        layers += sorted({a.layer for a in inside if a.layer is not None and a.kind in (Kind.LAY, Kind.SET)})
        found += [_layer(network, opening, inside, over_reaches, layer, work, moment) for layer in layers or [None]]
    return tuple(found)


def _tests_over_reaches(network: Network) -> dict[str, list[Activity]]:
    """Return by activity the tests it waits for that belong to no reach: those of a line over several reaches."""
    tests = {a.id: a for a in network.activities if a.kind is Kind.TEST and not a.reach}
    found: dict[str, list[Activity]] = {}
    for link in network.links:
        if link.before in tests:
            found.setdefault(link.after, []).append(tests[link.before])
    return found


def _layer(
    network: Network,
    opening: Opening,
    inside: list[Activity],
    over_reaches: Mapping[str, list[Activity]],
    layer: int | None,
    work: Mapping[str, WorkStands],
    moment: datetime,
) -> StretchStands:
    closes, dig = network.by_id[opening.closes], work[opening.opens]
    mine = [a for a in inside if a.layer == layer or layer is None]
    lines = tuple(dict.fromkeys(line for a in mine for line in a.lines))
    shading = [a.id for a in mine if a.kind is Kind.SHADE]
    covering = shading or [a.id for a in mine if a.kind.buries] or [closes.id]
    gates = set(covering)
    looks = [h.look for h in network.holds if gates.intersection(h.gates) and network.by_id[h.look].kind.is_look]
    over = [a for id_ in covering for a in over_reaches.get(id_, ())]
    tests = [a.id for a in (*inside, *over) if a.kind in (Kind.PROVE, Kind.TEST) and set(a.lines) & set(lines)]
    laying = [a.id for a in mine if a.kind in (Kind.LAY, Kind.SET, Kind.JOIN)]

    def state(done: Callable[[str], bool]) -> LayerState:
        if done(closes.id) or all(map(done, covering)):
            return LayerState.COVERED
        if not done(opening.opens):
            return LayerState.NOT_DUG
        if not all(map(done, laying)):
            return LayerState.DUG
        if not all(map(done, tests)):
            return LayerState.LAID
        if looks and all(map(done, looks)):
            return LayerState.SEEN
        return LayerState.TESTED if tests else LayerState.LAID

    def planned(id_: str) -> bool:
        times = work[id_].planned
        return work[id_].over if times is None else times[1] <= moment

    return StretchStands(
        opening.id,
        opening.reach,
        closes.alignment,
        closes.from_ft,
        closes.to_ft,
        layer,
        lines,
        state(lambda id_: work[id_].over),
        state(planned),
        digging=dig.started is not None and not dig.over,
        failed=tuple(a for a in (*looks, *tests) if work[a].state is WorkState.FAILED),
        closed=work[closes.id].over,
    )


def _meets(one: Activity, other: Activity) -> bool:
    return one.from_ft < other.to_ft and other.from_ft < one.to_ft
