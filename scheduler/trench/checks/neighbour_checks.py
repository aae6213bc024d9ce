"""Checks of which lines may lie beside, over and under each other, and of what is granted before anybody digs."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from scheduler.site.ground import Line, Reach
from scheduler.site.own_work import OwnWork
from scheduler.trench.book import Local
from scheduler.trench.checks.local_value_checks import same_name
from scheduler.trench.checks.view import Spot, View, shared_stretch, span_of
from scheduler.trench.section_records import PlacedLine
from scheduler.units import format_inches

_TOLERANCE_IN = 0.05
_BEFORE_DIG = ("surface_cut", "expose", "dig")


def _beside(_first: PlacedLine, _second: PlacedLine) -> str:
    return "in one trench"


def _over(first: PlacedLine, second: PlacedLine) -> str:
    aside = abs(first.x_in - second.x_in) - (first.width_in + second.width_in) / 2.0
    if aside >= -_TOLERANCE_IN:
        return ""
    return f"overlapping by {format_inches(-aside)}, one over the other"


def _below(first: PlacedLine, second: PlacedLine) -> str:
    if first.bottom_in <= second.top_in + _TOLERANCE_IN:
        return ""
    return f"its underside {format_inches(first.bottom_in)} down, the other's top {format_inches(second.top_in)} down"


_RULES: tuple[tuple[str, Callable[[PlacedLine, PlacedLine], str], str, str], ...] = (
    ("never-beside", _beside, "{a} shares a trench with {b}.", "no {kind} line in the trench"),
    ("never-over", _over, "{a} lies straight over or under {b}.", "the {kind} line to one side"),
    ("lies-above", _below, "{a} does not lie above {b}.", "higher than the {kind} line"),
)
"""A rule, what it finds wrong between two lines, in words, and how it is said."""


def neighbours(view: View) -> Iterator[Spot]:
    """No two lines lie beside, over or under each other where a sheet forbids it."""
    asked = {s.rule for s in view.book.from_sheets}
    for reach, one, other in view.pairs():
        for (a, first), (b, second) in ((one, other), (other, one)):
            for rule, wrong, text, required in _RULES:
                if rule not in asked:
                    continue
                for local in view.book.counting(rule, reach, [a]):
                    found = wrong(first, second) if b.kind in local.items else ""
                    if found:
                        yield _spot(local, reach, (a, b), text, found, required)


def _spot(local: Local, reach: Reach, lines: tuple[Line, Line], text: str, found: str, required: str) -> Spot:
    a, b = lines
    start, end = shared_stretch(a, b, reach) or span_of(reach)
    return Spot(
        rule=local.rule,
        subject=(a.id, b.id),
        alignment=reach.alignment,
        from_ft=start,
        to_ft=end,
        text=text.format(a=a.name, b=b.name),
        found=found,
        required=required.format(kind=b.kind),
        source=local.source,
    )


def permits(view: View) -> Iterator[Spot]:
    """What somebody must grant before anybody digs is written down, and where it is not granted yet the dig waits."""
    for local in view.book.from_sheets:
        if local.rule != "before-dig":
            continue
        for reach in view.site.reaches:
            lines = [view.lines[p.line] for p in view.sections[reach.id].placed]
            for kind in local.items if local.holds(reach, lines) else ():
                found = _not_granted(view, reach, local.who, kind)
                if found:
                    words = kind.replace("_", " ")
                    start, end = span_of(reach)
                    yield Spot(
                        rule=local.rule,
                        subject=(local.who, kind),
                        alignment=reach.alignment,
                        from_ft=start,
                        to_ft=end,
                        text=f"Nobody digs here before {local.who} has given its {words}.",
                        found=found,
                        required=f"a {words} by {local.who}",
                        source=local.source,
                    )


def _not_granted(view: View, reach: Reach, who: str, kind: str) -> str:
    """Say what is missing for a permit to hold in a reach: the permit, or a gate by which the dig waits for it."""
    there = [
        p
        for p in view.site.permits
        if p.kind == kind and same_name(p.by, who) and (not p.alignments or reach.alignment in p.alignments)
    ]
    if not there:
        return f"no {kind.replace('_', ' ')} by {who} under `permits`"
    steps = {w.id: w for w in view.site.own_work}
    for permit in there:
        step = steps.get(permit.step or "")
        if permit.step is None or (step is not None and _holds_dig(step, reach)):
            return ""
    return f"'{there[0].id}' is not granted, and its step is no gate before the dig here"


def _holds_dig(step: OwnWork, reach: Reach) -> bool:
    return step.gate and step.before in _BEFORE_DIG and (not step.reaches or reach.id in step.reaches)
