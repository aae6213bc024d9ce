"""What every part of the derivation reads (`Setting`) and leaves for the next part (`Made`)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from scheduler.network.hours import Hours
from scheduler.network.network_draft import Doing
from scheduler.network.pieces import Ground, Piece
from scheduler.network.tested_together import LineSections
from scheduler.site.ground import Branch, KeepOpen, Line, Reach, Structure
from scheduler.site.people import Equipment, OutsideWork, Trade
from scheduler.site.site_record import Site
from scheduler.trench.plates import Plates, plates_over
from scheduler.trench.section_records import PlacedLine, Section
from scheduler.units import format_station
from scheduler.worktime.clock import Clock

MACHINE = "machine"
"""Who is in a reach while a machine digs or fills there."""
GRAVITY = ("sewer", "storm")
"""Kinds of pipe that fall to one end."""
INSPECTOR = "inspector"
IN_TRENCH_CONDUIT = frozenset({"pvc40", "pvc80", "rmc", "imc", "hdpe"})


@dataclass(frozen=True)
class Setting:
    """A site with what is looked up in it over and over; nothing here changes."""

    site: Site
    clock: Clock
    data_date: int
    horizon: int
    hours: Hours
    ground: Ground
    sections: Mapping[str, Section]

    @cached_property
    def trades(self) -> Mapping[str, Trade]:
        """Trades by id."""
        return {t.id: t for t in self.site.trades}

    @cached_property
    def alignment_names(self) -> Mapping[str, str]:
        """Names of alignments by id."""
        return {a.id: a.name for a in self.site.alignments}

    @cached_property
    def branches(self) -> Mapping[str, Branch]:
        """Where each branch leaves another alignment, by its id."""
        return {a.id: a.leaves for a in self.site.alignments if a.leaves}

    @cached_property
    def outside(self) -> Mapping[str, OutsideWork]:
        """Outside work by id."""
        return {w.id: w for w in self.site.outside_work}

    @cached_property
    def structures_in(self) -> Mapping[str, list[Structure]]:
        """Structures to be set, by the reach they stand in, in order of the file."""
        out: dict[str, list[Structure]] = {}
        for structure in self.site.structures:
            reach = self.ground.reach_at(structure.alignment, structure.station)
            if structure.trade and reach:
                out.setdefault(reach.id, []).append(structure)
        return out

    @cached_property
    def placed(self) -> Mapping[tuple[str, str], PlacedLine]:
        """How each line lies in each reach, by (reach id, line id)."""
        return {(r, p.line): p for r, s in self.sections.items() for p in s.placed}

    @cached_property
    def plates(self) -> Mapping[str, Plates]:
        """The plates over each reach that a way crosses and that is plated at night."""
        return {
            r.id: plates_over(
                min(r.access.width_ft or r.to - r.from_, r.to - r.from_), self.sections[r.id].top_width_ft
            )
            for r in self.site.reaches
            if r.access is not None and r.access.at_night == "plated"
        }

    def hours_in(self, calendars: Iterable[str], reach: Reach | None, *, in_trench: bool = True) -> str:
        """Return the id of the calendar in which parties with such hours work in a reach, or beside it."""
        plates = self.plates.get(reach.id) if reach is not None else None
        ticks = self.clock.ticks(hours=plates.count / self.site.rates.plates_per_hour) if plates else 0
        return self.hours.shared(calendars, reach=reach, in_trench=in_trench, plates=ticks)

    @cached_property
    def tests(self) -> LineSections:
        """How far one pressure or leak test of each line goes."""
        return LineSections(self.site, self.ground, [self.upgrade(k) for k in self.site.lines if k.kind in GRAVITY])

    def upgrade(self, line: Line) -> list[str]:
        """Return the reaches of a pipe that falls to one end, from that end up."""
        route = self.ground.route(line.id)
        ends = [self.placed.get((r, line.id)) for r in (route[0], route[-1])] if route else []
        if len(ends) == 2 and ends[0] and ends[1] and ends[1].bottom_in > ends[0].bottom_in:
            route.reverse()
        return route

    def machine(self, kind: str) -> Equipment | None:
        """Return the site's first machine of a kind."""
        return next((e for e in self.site.equipment if e.kind == kind), None)

    def crew(self, trade: str, reach: Reach | None) -> Doing:
        """Return how a crew of a trade works by hand, in a reach or beside it."""
        calendar = self.hours_in([self.trades[trade].calendar], reach, in_trench=reach is not None)
        return Doing(trade, ((crew_id(trade), 1),), calendar, trade if reach else "")

    def with_machines(self, reach: Reach, *kinds: str, crew: bool, group: str, in_trench: bool = True) -> Doing:
        """Return how the general trade works in a reach, or beside it, with machines of some kinds.

        With `crew` its people work along; else only whoever runs the machines. Kinds that
        the site does not have are left out: the work is then done without them.
        """
        machines = [m for kind in kinds if (m := self.machine(kind))]
        crews = [m.trade for m in machines if m.trade]
        if crew or not machines:
            crews.append(self.site.general_trade.id)
        crews = list(dict.fromkeys(crews))
        calendars = [*(self.trades[t].calendar for t in crews), *(m.calendar for m in machines)]
        needs = [*((crew_id(t), 1) for t in crews), *((machine_id(m.id), 1) for m in machines)]
        trade = crews[0] if crews else self.site.general_trade.id
        return Doing(trade, tuple(needs), self.hours_in(calendars, reach, in_trench=in_trench), group)

    def joined(self, doing: Doing, machine: Equipment, reach: Reach) -> Doing:
        """Return how a crew works when a machine, and whoever runs it, is with it."""
        crews = [self.trades[doing.trade].calendar, *([self.trades[machine.trade].calendar] if machine.trade else [])]
        needs = dict(doing.needs)
        if machine.trade:
            needs.setdefault(crew_id(machine.trade), 1)
        needs[machine_id(machine.id)] = 1
        calendar = self.hours_in([*crews, machine.calendar], reach)
        return Doing(doing.trade, tuple(needs.items()), calendar, doing.group)

    def held_layer(self, piece: Piece, keep: KeepOpen) -> int | None:
        """Return the lowest layer of a kept-open piece that may not be shaded before the event.

        Layers under the lines of the event are covered as usual; where the event names no line
        lying here, everything waits. None where the reach has no layer at all.
        """
        layers = self.sections[piece.reach].layers
        works_on = self.outside[keep.until].lines
        held = [layer.index for layer in layers if set(works_on).intersection(layer.lines)]
        return min(held, default=min((layer.index for layer in layers), default=None))

    def held_from(self, piece: Piece) -> int | None:
        """Return the lowest layer of a piece that waits for any event, None when nothing waits."""
        held = [h for keep in piece.keeps if (h := self.held_layer(piece, keep)) is not None]
        return min(held, default=None)

    def loose_lines(self, piece: Piece) -> frozenset[str]:
        """Return the lines that the events of a kept-open piece work on: laid loose before them."""
        return frozenset(line for event in piece.events for line in self.outside[event].lines)

    def where(self, piece: Piece | Reach) -> str:
        """Name a piece or reach as people on site do: its alignment and stations."""
        name = self.alignment_names[piece.alignment]
        if isinstance(piece, Piece):
            return f"{name} {piece.stations}"
        return f"{name} {format_station(piece.from_)} to {format_station(piece.to)}"

    def line_names(self, lines: Iterable[str]) -> str:
        """Return the names of lines as a list to read."""
        names = [self.ground.lines[line].name for line in lines]
        return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1] if names else "no lines"


def is_conduit(line: Line) -> bool:
    """Return whether conductors or cables can be pulled through a line."""
    return line.material in IN_TRENCH_CONDUIT and line.kind in ("power", "lighting", "communications")


def crew_id(trade: str) -> str:
    """Return the id of a trade's crews as a resource."""
    return f"crew/{trade}"


def member_id(trade: str, skill: str) -> str:
    """Return the id of the members of a trade's crews with one skill as a resource."""
    return f"{crew_id(trade)}/{skill}"


def machine_id(equipment: str) -> str:
    """Return the id of a machine as a resource."""
    return f"machine/{equipment}"


@dataclass(slots=True)
class LayGroup:
    """Pieces of one reach in which lines of one layer are laid and looked at in one go.

    Usually the whole reach. Where a kept-open piece holds a lower layer uncovered, lines above
    it that the awaited work does not touch make a group of their own, laid `later`.
    """

    id: str
    layer: int
    pieces: tuple[Piece, ...]
    """Pieces that it shades."""
    lines: tuple[str, ...]
    loose: tuple[Piece, ...] = ()
    """Further pieces in which its lines lie loose, to be shaded by a later group."""
    later: frozenset[str] = frozenset()
    """Outside work that must be done before it can be laid."""
    lays: dict[str, str] = field(default_factory=dict)
    """Laying activity of each line."""
    tests: dict[str, str] = field(default_factory=dict)
    """Test before cover of each line, over this group."""
    extras: list[str] = field(default_factory=list)
    """Structures, caps and labels that belong to the layer."""
    shades: list[str] = field(default_factory=list)
    """Shading of its pieces, in order."""


@dataclass(slots=True)
class PieceWork:
    """What covers one piece."""

    piece: Piece
    shades: dict[int, str] = field(default_factory=dict)
    """Shading by layer."""
    after_shade: dict[int, str] = field(default_factory=dict)
    """What buries the shading of a layer: the fill to the next layer, or the first lifts."""
    covered: str = ""
    """The last lift."""
    compaction: str = ""
    restored: str = ""
    """The surface put back, the first time; '' where bare ground is left."""
    paved: str = ""
    """The final paving, where that follows a temporary one."""
    cured: str = ""
    """When concrete put back has cured."""

    @property
    def finished(self) -> str:
        """Return the last work on it."""
        return self.paved or self.restored or self.compaction or self.covered


@dataclass(slots=True)
class ReachWork:
    """What was made of one reach."""

    opened: str = ""
    """The last activity before the first line is laid."""
    digs: list[str] = field(default_factory=list)
    """What the locate ticket must cover, in order; the last is the dig."""
    groups: list[LayGroup] = field(default_factory=list)
    pieces: list[PieceWork] = field(default_factory=list)
    free_standing: list[str] = field(default_factory=list)
    """Structures beside the trench."""


@dataclass(slots=True)
class Made:
    """Ids of activities made so far, by what they are."""

    reaches: dict[str, ReachWork] = field(default_factory=dict)
    line_groups: dict[str, list[tuple[str, LayGroup]]] = field(default_factory=dict)
    """Of each line: the reaches and groups it is laid in, in file order of reaches."""
    structures: dict[str, str] = field(default_factory=dict)
    """Setting activity by structure."""
    proofs: dict[str, list[str]] = field(default_factory=dict)
    """Mandrel and pull string activities by line."""
    pulls: dict[str, list[str]] = field(default_factory=dict)
    checks: dict[str, list[str]] = field(default_factory=dict)
    """Tests after cover, by line."""
    looks: dict[str, list[str]] = field(default_factory=dict)
    """Looks by inspection."""
    looks_at: dict[tuple[str, str], list[str]] = field(default_factory=dict)
    """Looks by (inspection, reach), lowest layer first."""
    line_looks: dict[str, list[tuple[LayGroup | None, str]]] = field(default_factory=dict)
    """Looks before cover by line, each with the group it looks at; None: the line over its whole length."""
    waits: dict[str, frozenset[str]] = field(default_factory=dict)
    """Outside work that must be done first, of looks and tests that need a kept-open piece covered."""

    def possible(self, activities: Iterable[str], without: frozenset[str]) -> list[str]:
        """Return those activities that can be done before any of the outside work `without`."""
        return [a for a in activities if not self.waits.get(a, frozenset()) & without]
