"""Checks of what sheets ask of a line part by part, and of each zone of the fill; and what cannot be checked of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from scheduler.site.filling import FillZone, Zone
from scheduler.site.ground import Line, Reach
from scheduler.trench.book import Local
from scheduler.trench.checks.view import Spot, View, line_spot, span_of
from scheduler.trench.register import RULES
from scheduler.trench.rule import Value
from scheduler.units import format_amount

Fact = float | str | None
"""What a site says of something: an amount in the rule's unit, a word, or None where it says nothing."""
ZONES: Mapping[Zone, str] = {"bedding": "bedding", "pipe_zone": "pipe zone", "above": "fill above the pipe zone"}


@dataclass(frozen=True, slots=True)
class PartOfRun:
    """A part of a line's run in a reach, seen at a station in its middle [ft]."""

    view: View
    reach: Reach
    line: Line
    at: float


@dataclass(frozen=True, slots=True)
class AskedOfLine:
    """One rule that is asked of a line part by part."""

    fact: Callable[[PartOfRun], Fact]
    """What is there."""
    broken: str
    """What is said after the line's name where it is not kept."""
    give: str
    """The field to give where the fact is not known."""
    by_shell: bool = False
    """Whether the fact changes where a shell begins or ends."""


def _shell(place: PartOfRun) -> Fact:
    return place.line.shell_at(place.reach.alignment, place.at)


def _thickness(place: PartOfRun) -> Fact:
    part = place.line.encased_at(place.reach.alignment, place.at)
    return 0.0 if part is None else part.thickness_in


def _spares(place: PartOfRun) -> Fact:
    placed = place.view.sections[place.reach.id].placed
    lines = [place.view.lines[p.line] for p in placed]
    return float(sum(line.count for line in lines if line.use == "spare" and line.kind == place.line.kind))


def _pressure(place: PartOfRun) -> Fact:
    test = place.line.test
    return test.pressure_psi if test is not None and test.kind in ("pressure", "leak") else 0.0


OF_LINES: Mapping[str, AskedOfLine] = {
    "size-least": AskedOfLine(lambda p: p.line.size_in, "is too small.", "`size_in` of the line"),
    "size-most": AskedOfLine(lambda p: p.line.size_in, "is too large.", "`size_in` of the line"),
    "count-least": AskedOfLine(lambda p: float(p.line.count), "has too few conduits or pipes.", "`count` of the line"),
    "spare-least": AskedOfLine(_spares, "has too few spare conduits with it.", "a line with `use: spare`"),
    "pipe-material": AskedOfLine(
        lambda p: p.line.material, "is of a material not allowed here.", "`material` of the line"
    ),
    "shell-must": AskedOfLine(_shell, "lies without the shell asked for.", "`encased` of the line", by_shell=True),
    "shell-thickness": AskedOfLine(
        _thickness, "lies in too thin a shell.", "`thickness_in` under `encased` of the line", by_shell=True
    ),
    "test-must": AskedOfLine(
        lambda p: p.line.test.kind if p.line.test else "none", "is not tested as asked.", "`test` of the line"
    ),
    "test-psi": AskedOfLine(_pressure, "is tested at too low a pressure.", "`pressure_psi` of the line's test"),
    "test-psi-most": AskedOfLine(_pressure, "is tested at too high a pressure.", "`pressure_psi` of the line's test"),
    "test-hold": AskedOfLine(
        lambda p: p.line.test.hold_hours if p.line.test else 0.0,
        "is not held under test long enough.",
        "`test` of the line",
    ),
}
"""Rules that are asked of every line, part by part."""


@dataclass(frozen=True, slots=True)
class AskedOfFill:
    """One rule that is asked of each zone of the fill."""

    fact: Callable[[FillZone], Fact]
    broken: str
    give: str


OF_FILLS: Mapping[str, AskedOfFill] = {
    "fill-material": AskedOfFill(lambda f: f.material, "is not of a material allowed here.", "material"),
    "fill-stone": AskedOfFill(lambda f: f.stone_in, "has too large stones in it.", "stone_in"),
    "fill-lift": AskedOfFill(lambda f: f.lift_in, "is placed in too thick lifts.", "lift_in"),
    "fill-density": AskedOfFill(lambda f: f.density_percent, "is not compacted enough.", "density_percent"),
    "fill-strength": AskedOfFill(lambda f: f.strength_psi, "is too weak.", "strength_psi"),
    "fill-strength-most": AskedOfFill(lambda f: f.strength_psi, "is too strong to be dug again.", "strength_psi"),
}
"""Rules that are asked of every zone of the fill."""


@dataclass(frozen=True, slots=True)
class Unanswered:
    """A requirement of which the site does not say what decides it."""

    value: Value
    about: str
    give: str
    reaches: tuple[str, ...]


def keeps(value: Value, fact: float | str) -> bool:
    """Tell whether what is there keeps what is asked: a number at least or at most, or one of some words."""
    rule = RULES[value.rule]
    if isinstance(fact, str):
        return fact in value.items
    return fact <= value.value + 1e-6 if rule.sense == "at most" else fact >= value.value - 1e-6


def found_and_required(value: Value, fact: float | str) -> tuple[str, str]:
    """Say what is there and what is asked, amounts in the unit they were asked in."""
    rule = RULES[value.rule]
    if isinstance(fact, str):
        return fact, " or ".join(value.items)
    exact = rule.field == "size_in"
    found, required = (format_amount(x, rule.unit, like=value.written, exact=exact) for x in (fact, value.value))
    return found, f"{rule.sense} {required}"


def _asked_of_lines(view: View) -> Iterator[tuple[Value, PartOfRun, tuple[float, float], Fact]]:
    wanted = {s.rule for s in (*view.book.from_sheets, *view.book.from_site)} & OF_LINES.keys()
    for reach, line, _ in view.placed():
        for rule in sorted(wanted, key=list(OF_LINES).index):
            for start, end in view.book.parts([rule], line, reach, by_shell=OF_LINES[rule].by_shell):
                place = PartOfRun(view, reach, line, (start + end) / 2.0)
                value = view.book.find(rule, reach=reach, lines=[line], at=place.at)
                if value is not None:
                    yield value, place, (start, end), OF_LINES[rule].fact(place)


def lines_as_asked(view: View) -> Iterator[Spot]:
    """Every line has the size, number, material, shell and test that sheets ask for."""
    for value, place, span, fact in _asked_of_lines(view):
        if fact is None or keeps(value, fact):
            continue
        found, required = found_and_required(value, fact)
        gap = abs(fact - value.value) if isinstance(fact, float) else 0.0
        words = OF_LINES[value.rule].broken
        yield line_spot(place.line, place.reach, value, words, found=found, required=required, gap=gap, span=span)


def _zone_of(view: View, reach: Reach, zone: Zone) -> FillZone:
    """Return what a zone of the fill is in a reach; what the site leaves out is None, the lift that of all the fill."""
    told = view.site.backfill
    here = [z for z in told.zones if z.zone == zone and (not z.where or reach.id in z.where)]
    own = max(here, key=lambda z: bool(z.where), default=FillZone(zone=zone))
    if own.lift_in is None and zone != "bedding":
        return own.model_copy(update={"lift_in": told.lift_in})
    return own


def _asked_of_fills(view: View) -> Iterator[tuple[Value, Reach, Zone, Fact]]:
    wanted = {s.rule for s in (*view.book.from_sheets, *view.book.from_site)} & OF_FILLS.keys()
    for reach in view.site.reaches:
        lines = [view.lines[p.line] for p in view.sections[reach.id].placed]
        for zone in ZONES:
            there = _zone_of(view, reach, zone)
            for rule in sorted(wanted, key=list(OF_FILLS).index):
                value = view.book.find(rule, reach=reach, lines=lines, zone=zone)
                if value is not None:
                    yield value, reach, zone, OF_FILLS[rule].fact(there)


def fills_as_asked(view: View) -> Iterator[Spot]:
    """Every zone of the fill is of what sheets ask for, in such lifts and so dense."""
    for value, reach, zone, fact in _asked_of_fills(view):
        if fact is None or keeps(value, fact):
            continue
        found, required = found_and_required(value, fact)
        start, end = span_of(reach)
        yield Spot(
            rule=value.rule,
            subject=(value.rule, zone),
            alignment=reach.alignment,
            from_ft=start,
            to_ft=end,
            text=f"The {ZONES[zone]} {OF_FILLS[value.rule].broken}",
            found=found,
            required=required,
            source=value.source,
            gap=abs(fact - value.value) if isinstance(fact, float) else 0.0,
        )


def unanswered(view: View) -> Iterator[Unanswered]:
    """Yield the requirements that cannot be checked because the site does not say what decides them."""
    for value, place, _, fact in _asked_of_lines(view):
        if fact is None:
            yield Unanswered(value, place.line.name, OF_LINES[value.rule].give, (place.reach.id,))
    for value, reach, zone, fact in _asked_of_fills(view):
        if fact is None:
            give = f"`{OF_FILLS[value.rule].give}` of the `{zone}` row under `zones` of `backfill`"
            yield Unanswered(value, reach.id, give, (reach.id,))
    yield from _in_words(view)
    if "surroundings" not in view.site.model_fields_set:
        yield from _beside_unknown_things(view)


def _in_words(view: View) -> Iterator[Unanswered]:
    """Yield the requirements that only people can check, at every reach where they hold."""
    for local in view.book.from_sheets:
        if local.rule == "by-hand":
            for reach in _reaches_of(view, local):
                value = Value(rule=local.rule, value=1.0, source=local.source, items=local.items)
                yield Unanswered(value, reach, "nothing; have somebody check it on site", (reach,))


def _beside_unknown_things(view: View) -> Iterator[Unanswered]:
    """Yield the clearances to things outside the trench, where the site does not say what stands there."""
    for local in view.book.from_sheets:
        if local.rule.startswith(("clear-", "edge-", "overhead-")):
            give = "`surroundings`; `surroundings: []` where nothing is near"
            for reach in _reaches_of(view, local):
                value = Value(rule=local.rule, value=local.value, source=local.source, written=local.written)
                yield Unanswered(value, reach, give, (reach,))


def _reaches_of(view: View, local: Local) -> list[str]:
    return list(dict.fromkeys(reach.id for reach, line, _ in view.placed() if local.holds(reach, [line])))
