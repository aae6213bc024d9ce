"""Checks of conduit: bends, sweeps, pulls, fill, material, pull lines."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.site.ground import Bend, Line, Reach
from scheduler.trench.checks.view import Spot, View, line_spot, span_in
from scheduler.trench.conduit import CablePull, conduit_fill, least_radius_in, pulls_of
from scheduler.trench.pipes import CONDUITS, is_wired
from scheduler.trench.pulling import pull_forces, tension_borne
from scheduler.trench.register import RULES
from scheduler.trench.rule import Value
from scheduler.trench.rules.conduit_rules import HEAVY_FROM_IN, PULL_LENGTH_FT
from scheduler.units import format_amount, format_feet, format_inches, format_station

_TOLERANCE_IN = 0.05


def _conduits(view: View) -> list[Line]:
    return [line for line in view.site.lines if is_wired(line) and line.material in CONDUITS]


def pulls(view: View) -> Iterator[Spot]:
    """Between pull points the bends add up to no more, and the run is no longer, than a pull allows."""
    for line in _conduits(view):
        for pull in pulls_of(line, view.site.structures):
            reach = view.reach_at(pull.start.alignment, pull.start.station_ft)
            bends = view.book.get("bends-total", reach=reach, lines=[line])
            if pull.degrees > bends.value + 1e-6:
                yield _pull_spot(
                    view, line, pull, bends, "bends too much between two pull points.",
                    found=f"{pull.degrees:g} degrees", required=f"at most {bends.value:g}",
                )  # fmt: skip
            group = "communications" if line.kind == "communications" else _weight(line)
            length = view.book.get("pull-length", reach=reach, lines=[line], built_in=PULL_LENGTH_FT[group])
            if pull.length_ft > length.value + 1e-6:
                yield _pull_spot(
                    view, line, pull, length, "is too long between two pull points.",
                    found=format_feet(pull.length_ft), required=f"at most {length.feet()}",
                )  # fmt: skip


def forces(view: View) -> Iterator[Spot]:
    """Conductors are pulled in with no more tension, and press no harder round a bend, than they bear."""
    for line in _conduits(view):
        for pull in pulls_of(line, view.site.structures) if line.conductors else ():
            taken = pull_forces(line, pull)
            if taken is None:
                continue  # the size is told by the check of fill
            reach = view.reach_at(pull.start.alignment, pull.start.station_ft)
            borne = tension_borne(line.conductors)
            tension = view.book.get("pull-tension", reach=reach, lines=[line], built_in=borne)
            if taken.tension_lb > tension.value + 1e-6:
                yield _pull_spot(
                    view, line, pull, tension, "takes too hard a pull.",
                    found=format_amount(taken.tension_lb, "lb"),
                    required=f"at most {format_amount(tension.value, 'lb')}",
                )  # fmt: skip
            pressure = view.book.get("sidewall-pressure", reach=reach, lines=[line])
            if taken.sidewall_lb_per_ft > pressure.value + 1e-6:
                yield _pull_spot(
                    view, line, pull, pressure, "presses its conductors too hard against a bend.",
                    found=f"{taken.sidewall_lb_per_ft:.0f} lb/ft", required=f"at most {pressure.value:g} lb/ft",
                )  # fmt: skip


def _weight(line: Line) -> str:
    return "heavy" if line.size_in >= HEAVY_FROM_IN else "light"


def _pull_spot(view: View, line: Line, pull: CablePull, asked: Value, words: str, *, found: str, required: str) -> Spot:
    a, b = pull.start, pull.end
    names = {one.id: one.name for one in view.site.alignments}
    place = ""
    if a.alignment != b.alignment:
        place = (
            f"{names.get(a.alignment, a.alignment)} {format_station(a.station_ft)} "
            f"to {names.get(b.alignment, b.alignment)} {format_station(b.station_ft)}"
        )
    return Spot(
        rule=asked.rule,
        subject=(line.id, f"{a.along_ft:.0f}"),
        alignment=a.alignment,
        from_ft=min(a.station_ft, b.station_ft),
        to_ft=max(a.station_ft, b.station_ft),
        text=f"{line.name} {words}",
        found=found,
        required=required,
        source=asked.source,
        place=place,
    )


def bends(view: View) -> Iterator[Spot]:
    """Every bend is wide enough, and a sweep up fits below grade."""
    for line in _conduits(view):
        for bend in line.bends:
            reach = view.reach_at(bend.alignment, bend.station)
            table = least_radius_in(line.size_in, factory=bend.factory)
            radius = view.book.get("sweep-radius", reach=reach, lines=[line], built_in=table, at=bend.station)
            if bend.radius_in < radius.value - 1e-6:
                yield _bend_spot(
                    line, bend, radius, "has too tight a bend.",
                    found=f"{radius.inches(bend.radius_in)} radius",
                    required=f"at least {radius.inches()}", gap=radius.value - bend.radius_in,
                )  # fmt: skip
            centre = _centre_in(view, line, bend)
            if bend.vertical and centre is not None and bend.radius_in > centre + _TOLERANCE_IN:
                geometry = Value(rule="sweep-depth", value=centre, source=RULES["sweep-depth"].cited)
                yield _bend_spot(
                    line, bend, geometry, "has a sweep that does not fit the depth.",
                    found=f"{format_inches(bend.radius_in)} radius",
                    required=f"at most {format_inches(centre)}, the depth to the conduit's centre",
                    gap=bend.radius_in - centre,
                )  # fmt: skip
            factory = view.book.asks("no-factory-bends", reach=reach, lines=[line], at=bend.station)
            if factory is not None and bend.factory:
                yield _bend_spot(
                    line, bend, factory, "has a factory bend below grade.",
                    found="a factory bend", required="a field sweep",
                )  # fmt: skip


def _centre_in(view: View, line: Line, bend: Bend) -> float | None:
    """Return the depth to the centre of a conduit where it bends [in]."""
    for reach in view.site.reaches:
        if reach.alignment != bend.alignment:
            continue
        for placed in view.sections[reach.id].placed:
            start, end = span_in(line, reach) if placed.line == line.id else (1.0, 0.0)
            if start - 0.5 <= bend.station <= end + 0.5:
                return (placed.top_in + placed.bottom_in) / 2.0
    return None


def _bend_spot(
    line: Line, bend: Bend, asked: Value, words: str, *, found: str, required: str, gap: float = 0.0
) -> Spot:
    return Spot(
        rule=asked.rule,
        subject=(line.id,),
        alignment=bend.alignment,
        from_ft=bend.station,
        to_ft=bend.station,
        text=f"{line.name} {words}",
        found=found,
        required=required,
        source=asked.source,
        gap=gap,
    )


def _conduit_reaches(view: View) -> Iterator[tuple[Reach, Line]]:
    """Yield every reach with every conduit that lies in it."""
    conduits = {line.id for line in _conduits(view)}
    yield from ((reach, line) for reach, line, _ in view.placed() if line.id in conduits)


def fills(view: View) -> Iterator[Spot]:
    """Where conductors are given, the conduit is not too full."""
    for reach, line in _conduit_reaches(view):
        if not line.conductors:
            continue
        try:
            fill = conduit_fill(line.material, line.size_in, line.conductors)
        except KeyError as error:
            known = Value(rule="conduit-size-known", value=0.0, source=RULES["conduit-size-known"].cited)
            yield line_spot(
                line, reach, known, "has a size that the tables do not list.",
                found=f"{error.args[0]}", required="a trade size from the tables",
            )  # fmt: skip
            continue
        limit = view.book.get("conduit-fill", reach=reach, lines=[line], built_in=100.0 * fill.limit)
        if 100.0 * fill.share > limit.value + 1e-6:
            yield line_spot(
                line, reach, limit, "is too full.",
                found=f"{100.0 * fill.share:.1f} % full", required=f"at most {limit.value:g} %",
            )  # fmt: skip


def materials(view: View) -> Iterator[Spot]:
    """Conduit below grade is of a material that the local sheets allow in that place."""
    for reach, line, _ in view.placed():
        if not is_wired(line):
            continue
        asked = view.book.find("conduit-material", reach=reach, lines=[line])
        if asked is None or line.material in asked.items:
            continue
        yield line_spot(
            line, reach, asked, "is of a material not allowed here.",
            found=line.material, required=" or ".join(asked.items),
        )  # fmt: skip


def pull_lines(view: View) -> Iterator[Spot]:
    """An empty conduit has a pull line, strong enough where a sheet says how strong."""
    for reach, line in _conduit_reaches(view):
        if line.conductors:
            continue
        string = view.book.asks("pull-string", reach=reach, lines=[line], built_in=True)
        if string is not None and line.pull_string is False:
            yield line_spot(line, reach, string, "has no pull line.", found="none", required="a pull line")
            continue
        strength = view.book.find("pull-line-strength", reach=reach, lines=[line])
        if strength is not None and (line.pull_line_lb or 0.0) < strength.value:
            yield line_spot(
                line, reach, strength, "has a pull line that is too weak, or of unknown strength.",
                found=format_amount(line.pull_line_lb, "lb") if line.pull_line_lb else "no strength given",
                required=f"at least {format_amount(strength.value, 'lb')}",
            )  # fmt: skip
