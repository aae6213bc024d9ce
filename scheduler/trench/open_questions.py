"""What a layout check cannot tell: fields left out, and what nothing in the site file covers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from scheduler.site.ground import Line, Structure
from scheduler.site.locates import without_ticket
from scheduler.site.people import Inspection
from scheduler.trench.along import stretch_within
from scheduler.trench.checks.asked_checks import unanswered
from scheduler.trench.checks.beside_checks import MOST_DRAWN, drawn
from scheduler.trench.checks.local_value_checks import covers
from scheduler.trench.checks.sheet_checks import kinds_of
from scheduler.trench.checks.surround_checks import unknown_depth, unknown_height
from scheduler.trench.checks.view import View
from scheduler.trench.junctions import misplaced, unjoined
from scheduler.trench.pipes import CONDUITS, is_wired
from scheduler.trench.register import RULES
from scheduler.units import format_feet

_BEFORE_COVER = ("lines_laid", "shaded", "pressure_test")
_TESTED = ("water", "reclaimed", "irrigation", "sewer", "gas")
_CONNECTED = ("water", "reclaimed", "irrigation", "sewer")
_BESIDE_FT = 2.0
"""A riser stands at a pole when it stands within this of it."""


@dataclass(frozen=True, slots=True)
class OpenQuestion:
    """One thing that a check could not know, or that nothing in the site file covers."""

    about: str
    """The name of the line, structure, alignment or reach."""
    text: str
    """What is not known or not there, and so what was not looked at; the same for all things alike."""
    fill_in: str
    """What to write in the site file, and where; or, from a capital on, a sentence that says what to do."""
    reaches: tuple[str, ...] = ()
    """Ids of the reaches it concerns; empty: the whole site."""

    @property
    def to_do(self) -> str:
        """What to do about it, in a sentence."""
        return f"{self.fill_in}." if self.fill_in[:1].isupper() else f"Fill in {self.fill_in}."


def unknown(view: View) -> Iterator[OpenQuestion]:
    """Yield what the check could not know because a field was left out."""
    if view.site.site.frost_depth_in is None:
        yield OpenQuestion("the site", "How deep the ground freezes is not given.", "`frost_depth_in` under `site`")
    for reach in view.site.reaches:
        if reach.soil == "unknown":
            text = f"The soil is not classified; from {format_feet(5)} of depth it counts as the weakest."
            yield OpenQuestion(reach.id, text, "`soil` of the reach, from the competent person", (reach.id,))
        if reach.spoil != "haul" and reach.spoil_room_ft is None:
            text = "The room for spoil is not given; it is taken to fit."
            yield OpenQuestion(reach.id, text, "`spoil_room_ft` of the reach", (reach.id,))
    for line in view.site.lines:
        yield from _unknown_of_line(view, line)
    for marked in view.site.existing:
        if marked.depth_in is None:
            here = view.reach_at(marked.alignment, marked.station)
            text = "The depth of a marked line is not given; no clearance to it was looked at."
            yield OpenQuestion(
                marked.id, text, "`depth_in` of the marked line, found by hand", (here.id,) if here else ()
            )
    for structure in view.site.structures:
        yield from _unknown_of_structure(view, structure)
    for open_ in unanswered(view):
        said = ", ".join(open_.value.items) if open_.value.rule == "by-hand" else RULES[open_.value.rule].sentence
        text = f"'{open_.value.rule}' of {open_.value.source} cannot be checked: {said}"
        yield OpenQuestion(open_.about, text, open_.give, open_.reaches)
    yield from _unknown_places(view)
    yield from _unknown_surroundings(view)
    if drawn(view) > MOST_DRAWN:
        text = f"More than {MOST_DRAWN} plan coordinates; whether trenches run side by side was not looked at."
        yield OpenQuestion("the site", text, "fewer bends in `path` of the alignments")
    if len(view.site.alignments) > 1:
        for alignment in view.site.alignments:
            if not alignment.path:
                text = "It has no plan coordinates; whether it runs beside another trench was not looked at."
                reaches = tuple(r.id for r in view.site.reaches if r.alignment == alignment.id)
                yield OpenQuestion(alignment.name, text, "`path` of the alignment", reaches)


def _unknown_places(view: View) -> Iterator[OpenQuestion]:
    for work in view.site.outside_work:
        kept = any(keep.until == work.id for keep in view.site.keep_open)
        if not (work.at or work.not_at_trench or work.lines or kept):
            text = "Where it is done is not given; whether people stand within a machine's swing cannot be checked."
            yield OpenQuestion(work.name, text, "`at`, `lines` or `not_at_trench` of the outside work")


def _unknown_surroundings(view: View) -> Iterator[OpenQuestion]:
    for thing, reach in unknown_depth(view):
        text = "How deep its footing lies is not given; whether the trench reaches below it cannot be checked."
        yield OpenQuestion(thing.said, text, "`footing_in` of the building under `surroundings`", (reach.id,))
    for thing, reach in unknown_height(view):
        text = "How high its wires hang is not given; whether a machine comes too near cannot be checked."
        yield OpenQuestion(thing.said, text, "`height_ft` of the overhead line under `surroundings`", (reach.id,))
    for thing in view.site.surroundings:
        if thing.what == "overhead_line" and thing.voltage_v is None and not thing.settled:
            text = "Its voltage is not given; it is taken as 50,000 V at most."
            yield OpenQuestion(thing.said, text, "`voltage_v` of the overhead line under `surroundings`")


def _unknown_of_line(view: View, line: Line) -> Iterator[OpenQuestion]:
    reaches = reaches_of(view, line)
    yield from _unrated(view, line, reaches)
    if line.kind in ("power", "lighting") and line.voltage_v is None:
        text = "Its voltage is not given; its cover is that of at most 600 V."
        yield OpenQuestion(line.name, text, "`voltage_v` of the line", reaches)
    if line.kind in ("power", "lighting") and line.material in CONDUITS and not line.conductors and not line.stub:
        text = "Its conductors are not given; how full the conduit is was not looked at."
        yield OpenQuestion(line.name, text, "`conductors` of the line", reaches)


def _unrated(view: View, line: Line, reaches: tuple[str, ...]) -> Iterator[OpenQuestion]:
    """Yield the requirements that go by a line's amperes or volts, which are not given."""
    for local in view.book.from_sheets:
        entry = local.entry
        field = entry.unrated(line) if entry is not None and entry.fits_line(line, ratings=False) else ""
        if field and (not kinds_of(RULES[local.rule]) or line.kind in kinds_of(RULES[local.rule])):
            what = field.replace("_v", "")
            text = f"'{local.rule}' of {local.source} cannot be checked: it goes by the {what} of the line, not given."
            yield OpenQuestion(line.name, text, f"`{field}` of the line", reaches)


def _unknown_of_structure(view: View, structure: Structure) -> Iterator[OpenQuestion]:
    here = view.reach_at(structure.alignment, structure.station)
    reaches = (here.id,) if here else ()
    if not any(is_wired(line) for line in view.lines_of(structure)):
        return
    if structure.kind in ("pull_box", "handhole"):
        if structure.size_in is None:
            text = "The size of the box is not given; its length was not looked at."
            yield OpenQuestion(structure.name, text, "`size_in` of the structure", reaches)
        elif structure.conduit_gap_in is None:
            text = "How far apart conduits end in the box is not given."
            yield OpenQuestion(structure.name, text, "`conduit_gap_in` of the structure", reaches)
    if structure.kind == "riser":
        if structure.riser_height_ft is None:
            text = "How high the riser is protected is not given."
            yield OpenQuestion(structure.name, text, "`riser_height_ft` of the structure", reaches)
        if not structure.slip_joint and (structure.exposed_run_ft is None or structure.temperature_change_f is None):
            text = "How far the exposed conduit moves with heat is not known."
            yield OpenQuestion(
                structure.name, text, "`exposed_run_ft` and `temperature_change_f`, or `slip_joint`", reaches
            )


def uncovered(view: View) -> Iterator[OpenQuestion]:
    """Yield what a site like this usually has and nothing in the file covers."""
    if view.site.site_work is None:
        text = f"Nothing in the file says: {', '.join(_site_work(view))}."
        fill_in = "`site_work: {hauling: true}`, which plans all of these, not only hauling; `false` leaves one out"
        yield OpenQuestion("the site", text, fill_in)
    if "surroundings" not in view.site.model_fields_set:
        text = "Nothing says what stands beside the trench or hangs over it; no clearance to that was looked at."
        yield OpenQuestion("the site", text, "`surroundings`; `surroundings: []` where nothing is near")
    for alignment in without_ticket(view.site):
        reaches = tuple(r.id for r in view.site.reaches if r.alignment == alignment.id)
        yield OpenQuestion(alignment.name, "No locate ticket covers it.", "a ticket under `locate_tickets`", reaches)
    for line in view.site.lines:
        yield from _uncovered_line(view, line)
    for line, end in unjoined(view.site):
        here = view.reach_at(end.alignment, end.station)
        text = "It begins where its trench leaves another, and joins nothing there."
        fill_in = "`joins` of the line: what it joins, or [] for nothing"
        yield OpenQuestion(line.name, text, fill_in, (here.id,) if here else ())
    for line, joint in misplaced(view.site):
        text = "Neither of its ends meets what it is to join; nothing waits for that joint."
        yield OpenQuestion(line.name, text, f"a route that meets {joint.line}", reaches_of(view, line))
    for structure in view.site.structures:
        if structure.kind == "pole" and _ends_at(view, structure) and not _riser_at(view, structure):
            here = view.reach_at(structure.alignment, structure.station)
            text = "A line ends at the pole and no riser takes it up."
            yield OpenQuestion(structure.name, text, "a riser under `structures`", (here.id,) if here else ())


def _site_work(view: View) -> Iterator[str]:
    """Yield the work beside the trench that such a site has, as far as the file lets one know."""
    site = view.site
    wet = [line for line in site.lines if line.kind in _CONNECTED]
    usual = {
        "traffic control": any(r.place == "street" for r in site.reaches),
        "machine delivered and taken away": any(e.kind == "excavator" for e in site.equipment),
        "spoil hauled and material brought": True,
        "shields and pumps out again": any(s.protection in ("shield", "engineer") for s in view.sections.values())
        or any(r.groundwater for r in site.reaches),
        "photographs and measured covers": True,
        "connections at both ends of wet lines": bool(wet),
        "disinfection": any(line.kind == "water" for line in wet),
        "tracer wire check": any(line.tracer_wire_awg for line in site.lines),
        "temporary and final paving": any(r.surface == "asphalt" for r in site.reaches),
        "concrete's cure": any(r.surface == "concrete" for r in site.reaches),
        "the laboratory's density result": site.backfill.compaction_test,
    }
    yield from (name for name, here in usual.items() if here)


def _uncovered_line(view: View, line: Line) -> Iterator[OpenQuestion]:
    reaches = reaches_of(view, line)
    if line.kind in _TESTED and line.test is None:
        yield OpenQuestion(line.name, "No test is made of it.", "`test` of the line", reaches)
    unseen = tuple(r for r in reaches if not _looked_at(view, line, r))
    if unseen:
        text = "Nobody inspects it before it is covered."
        yield OpenQuestion(line.name, text, "an inspection under `inspections`", unseen)
    if line.use == "service" and not line.stub and not any(line.id in w.lines for w in view.site.outside_work):
        text = "No work of others connects the service."
        yield OpenQuestion(
            line.name, text, "the connection under `outside_work`, with the line among its `lines`", reaches
        )


def reaches_of(view: View, line: Line) -> tuple[str, ...]:
    """Return the ids of the reaches that a line passes."""
    return tuple(r.id for r in view.site.reaches if stretch_within(line, r))


def _looked_at(view: View, line: Line, reach: str) -> bool:
    alignment = next(r.alignment for r in view.site.reaches if r.id == reach)

    def looks(inspection: Inspection) -> bool:
        there = not inspection.alignments or alignment in inspection.alignments
        return inspection.stage in _BEFORE_COVER and there and covers(inspection, line)

    return any(looks(i) for i in view.site.inspections)


def _ends_at(view: View, structure: Structure) -> bool:
    """Tell whether a wired line ends at a structure: one that it names, or whose route ends there."""
    named = any(is_wired(line) for line in view.lines_of(structure))
    return named or any(
        is_wired(line)
        and any(
            s.alignment == structure.alignment
            and min(abs(s.from_ - structure.station), abs(s.to - structure.station)) < 0.5
            for s in line.route
        )
        for line in view.site.lines
    )


def _riser_at(view: View, structure: Structure) -> bool:
    return any(
        s.kind == "riser" and s.alignment == structure.alignment and abs(s.station - structure.station) <= _BESIDE_FT
        for s in view.site.structures
    )


def alike(gaps: Iterable[OpenQuestion]) -> dict[tuple[str, str], tuple[str, ...]]:
    """Group gaps with the same words: (text, what to do) to the names it is said of."""
    grouped: dict[tuple[str, str], list[str]] = {}
    for gap in gaps:
        names = grouped.setdefault((gap.text, gap.to_do), [])
        if gap.about not in names:
            names.append(gap.about)
    return {key: tuple(names) for key, names in grouped.items()}
