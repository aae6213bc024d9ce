"""Checks of rule sheets against each other and the site: entries that can never apply, sheets that disagree."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches
from itertools import combinations

from scheduler.site.ground import Line, LineKind, Reach
from scheduler.trench.book import Local
from scheduler.trench.checks.view import Spot, View, span_of
from scheduler.trench.cover_depth import least_cover
from scheduler.trench.register import RULES
from scheduler.trench.rule import LayoutRule, Value
from scheduler.trench.sheets import SheetEntry
from scheduler.units import format_amount

_WIRED: tuple[LineKind, ...] = ("power", "lighting", "communications")
_PIPED: tuple[LineKind, ...] = ("water", "reclaimed", "irrigation", "sewer", "storm", "gas")
_SPEAKS_OF: dict[str, tuple[LineKind, ...]] = {
    **dict.fromkeys(
        (
            "bends-total", "no-factory-bends", "sweep-radius", "pull-length", "pull-tension",
            "sidewall-pressure", "pull-string", "pull-line-strength", "box-length", "box-gap", "conduit-fill",
            "conduit-material", "riser-height", "riser-material", "riser-wrap", "riser-movement", "thermal-movement",
            "shared-box",
        ),
        _WIRED,
    ),
    **dict.fromkeys(("tracer", "tracer-size", "room-pipe", "shelf-shoulder"), _PIPED),
    "frost-below": ("water", "reclaimed"),
    "hydrant-drain": ("water", "reclaimed", "irrigation"),
    "water-sewer-shelf": ("water", "sewer"),
    "test-hold-main": ("water",),
    "test-hold-water": ("water",),
    "test-hold-sewer": ("sewer",),
    "test-hold-gas": ("gas",),
    "building-gas": ("gas",),
}  # fmt: skip
"""The kinds of line that a rule outside the families is ever asked about, where these are not all."""
OPPOSITES = (
    ("width-least", "width-most"),
    ("depth-least", "depth-most"),
    ("size-least", "size-most"),
    ("test-psi", "test-psi-most"),
    ("ribbon-height", "ribbon-height-most"),
    ("ribbon-below-least", "ribbon-below-most"),
)
"""Rules that say how much at least and how much at most of one thing."""
_MISTYPED = 0.85
"""How alike two names are, of 1, for one to be taken as the other mistyped."""


def kinds_of(rule: LayoutRule) -> tuple[LineKind, ...]:
    """Return the kinds of line that a rule can be asked about; empty: all."""
    return rule.kinds or _SPEAKS_OF.get(rule.id, ())


def never_bites(view: View) -> Iterator[Spot]:
    """An entry of a sheet speaks of what its rule knows, asks for nothing impossible, and names owners as they are."""
    owners = sorted({line.owner for line in view.site.lines})
    for local in view.book.from_sheets:
        entry = local.entry
        if entry is None:
            continue
        for why, found, required in _never(RULES[local.rule], entry):
            text = f"An entry for '{local.rule}' can never apply: {why}."
            yield _entry_spot(local, entry, text, found=found, required=required)
        for owner in (o for c in (entry, *entry.except_) for o in c.owners):
            guess = _mistyped(owner, owners)
            if guess:
                yield _entry_spot(
                    local,
                    entry,
                    f"An entry for '{local.rule}' names an owner who owns no line; did you mean '{guess}'?",
                    found=f"'{owner}'",
                    required="an owner as the site file writes it",
                )


def _never(rule: LayoutRule, entry: SheetEntry) -> Iterator[tuple[str, str, str]]:
    """Yield why an entry can never apply, what it says, and what could be said."""
    known = kinds_of(rule)
    if known and entry.kinds and not set(entry.kinds) & set(known):
        yield "the rule never concerns such lines", ", ".join(entry.kinds), " or ".join(known)
    for said in entry.impossible():
        yield "no number is both", said, "the lower one first"
    if not rule.along and entry.along:
        said = entry.part or f"encased {' or '.join(entry.encased)}"
        yield "the rule is asked of whole reaches or structures", said, "no part of a run, and no shell"
    if not rule.zoned and entry.zones:
        yield "the rule is not about the fill", " and ".join(entry.zones), "no zone"
    for exception in entry.except_:
        if entry.within(exception, known=rule.kinds):
            yield "its exception takes out all that it is for", "such an exception", "a narrower one"


def _mistyped(owner: str, owners: list[str]) -> str:
    if owner in owners:
        return ""
    alike = {o.casefold(): o for o in owners}
    close = get_close_matches(owner.casefold().strip(), alike, n=1, cutoff=_MISTYPED)
    return alike[close[0]] if close else ""


def _entry_spot(local: Local, entry: SheetEntry, text: str, *, found: str, required: str) -> Spot:
    return Spot(
        rule="local-rule",
        subject=("entry", local.source, local.rule, found),
        alignment="",
        from_ft=0.0,
        to_ft=0.0,
        text=text,
        found=found,
        required=required,
        source=local.source,
        remedy="Mend the entry of the sheet, or take it out.",
        place="rule_sheets",
        entry=entry,
    )


def disagreements(view: View) -> Iterator[Spot]:
    """No two sheets ask for different things where neither is the stricter: lists, and yes against no."""
    asked: dict[str, list[Local]] = {}
    for local in view.book.from_sheets:
        if RULES[local.rule].sense in ("is", "one of") and not RULES[local.rule].adds:
            asked.setdefault(local.rule, []).append(local)
    for rule, entries in asked.items():
        for one, other in combinations(entries, 2):
            if (one.items, one.value) != (other.items, other.value):
                yield from _both_hold(view, rule, one, other)


def _both_hold(view: View, rule: str, one: Local, other: Local) -> Iterator[Spot]:
    for reach, lines in _where_asked(view, rule):
        for line, (start, end) in lines:
            counting = view.book.counting(rule, reach, [line], at=(start + end) / 2.0)
            if one not in counting or other not in counting:
                continue
            yield Spot(
                rule=rule,
                subject=("sheets disagree", one.source, other.source),
                alignment=reach.alignment,
                from_ft=start,
                to_ft=end,
                text=f"Two requirements disagree: {RULES[rule].sentence}",
                found=f"{_said(one)} by {one.source}; {_said(other)} by {other.source}",
                required="one of the two; until somebody decides, the one read last counts",
                source=f"{one.source}; {other.source}",
                remedy="Ask both which holds here, and narrow or take out the other entry.",
                entry=other.entry,
            )
            break


def _where_asked(view: View, rule: str) -> Iterator[tuple[Reach, list[tuple[Line, tuple[float, float]]]]]:
    """Yield every reach with the lines that a rule can be about, each with its parts there."""
    known = kinds_of(RULES[rule])
    for reach in view.site.reaches:
        lines = [view.lines[p.line] for p in view.sections[reach.id].placed]
        about = [line for line in lines if not known or line.kind in known]
        if not RULES[rule].along:
            yield reach, [(line, span_of(reach)) for line in about]
        else:
            yield reach, [(line, part) for line in about for part in view.book.parts([rule], line, reach)]


def contradictions(view: View) -> Iterator[Spot]:
    """Nothing is asked to be at least as much as it may at most be."""
    local = {s.rule for s in (*view.book.from_sheets, *view.book.from_site)}
    for least, most in _opposites():
        if not local & {least, most}:
            continue
        for reach, lines in _where_asked(view, least):
            for line, span in lines:
                yield from _contradiction(view, (least, most), reach, line, span)


def _opposites() -> Iterator[tuple[str, str]]:
    """Yield the rules that say how much at least and how much at most of one thing."""
    for rule in RULES.values():
        if rule.family == "cover":
            yield rule.id, "cover-most"
    yield from OPPOSITES


def _contradiction(
    view: View, rules: tuple[str, str], reach: Reach, line: Line, span: tuple[float, float]
) -> Iterator[Spot]:
    at = sum(span) / 2.0
    if RULES[rules[0]].family == "cover":
        least: Value | None = least_cover(view.book, line, reach, at=at)
    else:
        least = view.book.find(rules[0], reach=reach, lines=[line], at=at)
    most = view.book.find(rules[1], reach=reach, lines=[line], at=at)
    if least is None or most is None or least.value <= most.value + 1e-6:
        return
    unit = RULES[rules[0]].unit
    low, high = (format_amount(v.value, unit, like=v.written) for v in (least, most))
    blamed = most if most.local else least
    entry = next((s.entry for s in view.book.from_sheets if s.rule == blamed.rule and s.source == blamed.source), None)
    yield Spot(
        rule=rules[0],
        subject=("cannot both hold", least.source, most.source),
        alignment=reach.alignment,
        from_ft=span[0],
        to_ft=span[1],
        text=f"Two requirements cannot both hold for {line.name}: '{least.rule}' and '{most.rule}'.",
        found=f"at least {low} by {least.source}; at most {high} by {most.source}",
        required="one of the two",
        source=f"{least.source}; {most.source}",
        gap=least.value - most.value,
        remedy="Ask both which holds here, and narrow or take out one of the entries.",
        entry=entry,
    )


def _said(local: Local) -> str:
    if RULES[local.rule].form == "yes":
        return "yes" if local.value > 0 else "no"
    return ", ".join(local.items) or f"{local.value:g}"
