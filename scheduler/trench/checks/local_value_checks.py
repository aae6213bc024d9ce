"""Checks of local values: rules nobody knows, values that weaken, inspections that a sheet asks for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scheduler.findings import Severity
from scheduler.site.faults import nearest
from scheduler.site.ground import Line
from scheduler.site.people import Inspection
from scheduler.trench.along import stretch_within
from scheduler.trench.book import Local, own_amount, takes_number
from scheduler.trench.checks.surround_checks import surrounding_values
from scheduler.trench.checks.view import Spot, View, span_of
from scheduler.trench.conduit import least_radius_in
from scheduler.trench.cover_depth import cover_parts
from scheduler.trench.register import RULES
from scheduler.trench.rule import Value
from scheduler.trench.rules.surround_rules import clear_id
from scheduler.trench.separations import separation
from scheduler.units import format_amount


@dataclass(frozen=True, slots=True)
class _Weaker:
    """Where a local value stands below the built-in one."""

    alignment: str
    from_ft: float
    to_ft: float
    built_in: float


def unknown_rules(view: View) -> Iterator[Spot]:
    """Every local value names a rule that exists and takes one number."""
    for index, own in enumerate(view.site.rules, start=1):
        if takes_number(own.rule) and own_amount(own) is not None:
            continue
        guess = nearest(own.rule, RULES)
        text = f"No layout rule is called '{own.rule}'" + (f"; did you mean '{guess}'?" if guess else ".")
        if own.rule in RULES and not RULES[own.rule].local:
            text = f"The rule '{own.rule}' has no local value: it is geometry, or for people to settle."
        elif takes_number(own.rule):
            text = f"The unit of a value for '{own.rule}' measures something else; its own is {RULES[own.rule].unit}."
        elif own.rule in RULES:
            text = f"The rule '{own.rule}' takes a list, which only a rule sheet can give."
        yield Spot(
            rule="local-rule",
            subject=(own.rule, str(index)),
            alignment="",
            from_ft=0.0,
            to_ft=0.0,
            text=text,
            found=f"'{own.rule}'",
            required="the id of a layout rule that takes a number",
            source="the register of layout rules",
            severity=Severity.FIX,
            place=f"rules[{index}]",
            path=("rules", index - 1),
        )


def weakened(view: View) -> Iterator[Spot]:
    """A local value that asks for less than the built-in one is shown, and asked for its source."""
    for local in (*view.book.from_sheets, *view.book.from_site):
        rule = RULES[local.rule]
        for where in _weaker_places(view, local):
            text = f"A local value stands below the built-in rule: {rule.sentence}"
            severity = Severity.NOTE
            if not local.cites:
                severity = Severity.FIX
                text = f"A local value without a source stands below the built-in rule: {rule.sentence}"
            yield Spot(
                rule=local.rule,
                subject=("local value", local.source),
                alignment=where.alignment,
                from_ft=where.from_ft,
                to_ft=where.to_ft,
                text=text,
                found=f"{format_amount(local.value, rule.unit, like=local.written)} by {local.source}",
                required=f"{format_amount(where.built_in, rule.unit)} by {rule.source}",
                source=local.source,
                gap=abs(where.built_in - local.value),
                remedy="Write the section or page of the sheet." if not local.cites else "None, if the source says so.",
                severity=severity,
            )


def _weaker_places(view: View, local: Local) -> Iterator[_Weaker]:
    """Yield the reaches where a local value is the one that counts, and is below the built-in one."""
    rule = RULES[local.rule]
    for reach in view.site.reaches:
        start, end = span_of(reach)
        lines = [view.lines[p.line] for p in view.sections[reach.id].placed]
        for value in _values_at(view, local.rule, reach.id, lines):
            if value.source == local.source and value.weaker(rule) and value.built_in is not None:
                yield _Weaker(reach.alignment, start, end, value.built_in)
                break


def _values_at(view: View, rule_id: str, reach_id: str, lines: list[Line]) -> Iterator[Value]:
    """Yield the values a rule has in a reach, for every line or pair it speaks about."""
    reach = next(r for r in view.site.reaches if r.id == reach_id)
    rule = RULES[rule_id]
    if rule.family == "cover":
        for line in lines:
            if line.kind in rule.kinds:
                yield from (value for _, _, value in cover_parts(view.book, line, reach))
    elif rule.family == "apart":
        pairs = [(a, b) for i, a in enumerate(lines) for b in lines[i + 1 :]]
        yield from (v for a, b in pairs if (v := separation(view.book, a, b, reach)).rule == rule_id)
    elif rule_id == "sweep-radius":
        for line in lines:
            for bend in line.bends:
                table = least_radius_in(line.size_in, factory=bend.factory)
                yield view.book.get(rule_id, reach=reach, lines=[line], built_in=table, at=bend.station)
    elif rule_id in (clear_id("well"), "overhead-clear"):
        yield from surrounding_values(view, rule_id, reach, lines)
    elif rule.default is not None:
        for line in lines:
            yield view.book.get(rule_id, reach=reach, lines=[line])


def inspections(view: View) -> Iterator[Spot]:
    """Whoever a sheet names sees the lines at the stages it names."""
    for local in view.book.from_sheets:
        if local.rule != "inspect-stages" or local.entry is None:
            continue
        for stage in local.items:
            missed = [line for line in view.site.lines if not _seen(view, local, stage, line)]
            if missed:
                names = ", ".join(line.name for line in missed)
                yield Spot(
                    rule=local.rule,
                    subject=(local.who, stage),
                    alignment="",
                    from_ft=0.0,
                    to_ft=0.0,
                    text=f"{local.who} is to see {names} at this stage, and no inspection says so.",
                    found="no such inspection over the whole line",
                    required=f"an inspection by {local.who}, stage {stage}, that holds the work",
                    source=local.source,
                    place="inspections",
                )


def _seen(view: View, local: Local, stage: str, line: Line) -> bool:
    """Tell whether every reach of a line where a sheet asks for it is under a hold of this stage by this authority."""
    looks = [
        i
        for i in view.site.inspections
        if i.stage == stage and i.hold == "hold" and same_name(i.authority, local.who) and covers(i, line)
    ]
    asked = {r.alignment for r in view.site.reaches if stretch_within(line, r) and local.holds(r, [line])}
    return all(any(not i.alignments or a in i.alignments for i in looks) for a in asked)


def covers(inspection: Inspection, line: Line) -> bool:
    """Tell whether an inspection looks at a line, along whichever alignments it names."""
    if inspection.lines:
        return line.id in inspection.lines
    return not inspection.kinds or line.kind in inspection.kinds


def same_name(authority: str, who: str) -> bool:
    """Tell whether two texts name one firm or authority, however they write small and capital letters."""
    return authority.casefold().strip() == who.casefold().strip()
