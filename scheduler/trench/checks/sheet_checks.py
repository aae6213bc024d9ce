"""Checks of rule sheets against each other and the site: entries that can never apply, sheets that disagree."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import combinations
from typing import Literal

from scheduler.site.filling import Zone
from scheduler.site.ground import Line, LineKind, Reach
from scheduler.trench.book import Local
from scheduler.trench.checks.asked_checks import ZONES
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
OF_TRENCH = (
    "width-", "depth-", "bedding-least", "bedding-rock", "shading-least", "spoil-", "protect-", "room-shield",
    "line-order", "trenches-apart", "locate-ticket", "fill-", "edge-", "footing-", "overhead-",
)  # fmt: skip
"""Rules about the trench and not one line in it, by how their names begin."""
OPPOSITES = (
    ("width-least", "width-most"),
    ("depth-least", "depth-most"),
    ("size-least", "size-most"),
    ("test-psi", "test-psi-most"),
    ("ribbon-height", "ribbon-height-most"),
    ("ribbon-below-least", "ribbon-below-most"),
    ("fill-strength", "fill-strength-most"),
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
        remedy="Fix the entry of the sheet, or remove it.",
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
    counts = "yes" if RULES[rule].form == "yes" else "the one read last"
    told: set[tuple[str, str]] = set()
    for asked in _where_asked(view, rule):
        start, end = asked.span
        counting = view.book.counting(rule, asked.reach, asked.lines, at=asked.at, zone=asked.zone)
        if one not in counting or other not in counting or (asked.reach.id, asked.zone) in told:
            continue
        told.add((asked.reach.id, asked.zone))
        yield Spot(
            rule=rule,
            subject=("sheets disagree", one.source, other.source, asked.zone),
            alignment=asked.reach.alignment,
            from_ft=start,
            to_ft=end,
            text=f"Two requirements disagree{asked.zone and f' on the {ZONES[asked.zone]}'}: {RULES[rule].sentence}",
            found=f"{_said(one)} by {one.source}; {_said(other)} by {other.source}",
            required=f"one of the two; until somebody decides, {counts} counts",
            source=f"{one.source}; {other.source}",
            remedy="Ask both which holds here, and narrow or take out the other entry.",
            entry=other.entry,
        )


@dataclass(frozen=True, slots=True)
class _AskedAt:
    """One place at which a rule is asked, as its check asks it."""

    reach: Reach
    lines: tuple[Line, ...]
    """One line, or all in the trench for a rule about that."""
    span: tuple[float, float]
    """Stations [ft]."""
    zone: Zone | Literal[""] = ""
    """The zone of the fill; '' for rules of anything else."""

    @property
    def at(self) -> float:
        """The station in its middle [ft]."""
        return sum(self.span) / 2.0

    @property
    def name(self) -> str:
        """What the rule is asked of, in words."""
        return f"the {ZONES[self.zone]}" if self.zone else self.lines[0].name if len(self.lines) == 1 else "the trench"


def _where_asked(view: View, rule: str) -> Iterator[_AskedAt]:
    """Yield every place at which a rule is asked: of each line part by part, or of the trench and its fill at once."""
    known = kinds_of(RULES[rule])
    for reach in view.site.reaches:
        lines = [view.lines[p.line] for p in view.sections[reach.id].placed]
        about = [line for line in lines if not known or line.kind in known]
        if about and rule.startswith(OF_TRENCH):
            zones: tuple[Zone | Literal[""], ...] = tuple(ZONES) if RULES[rule].zoned else ("",)
            yield from (_AskedAt(reach, tuple(about), span_of(reach), zone) for zone in zones)
            continue
        for line in about:
            parts = view.book.parts([rule], line, reach) if RULES[rule].along else [span_of(reach)]
            yield from (_AskedAt(reach, (line,), part) for part in parts)


def contradictions(view: View) -> Iterator[Spot]:
    """Nothing is asked to be at least as much as it may at most be."""
    local = {s.rule for s in (*view.book.from_sheets, *view.book.from_site)}
    for least, most in _opposites():
        if not local & {least, most}:
            continue
        for asked in _where_asked(view, least):
            yield from _contradiction(view, (least, most), asked)


def _opposites() -> Iterator[tuple[str, str]]:
    """Yield the rules that say how much at least and how much at most of one thing."""
    for rule in RULES.values():
        if rule.family == "cover":
            yield rule.id, "cover-most"
    yield from OPPOSITES


def _contradiction(view: View, rules: tuple[str, str], asked: _AskedAt) -> Iterator[Spot]:
    reach, lines, at, zone = asked.reach, asked.lines, asked.at, asked.zone
    if RULES[rules[0]].family == "cover":
        least: Value | None = least_cover(view.book, lines[0], reach, at=at)
    else:
        least = view.book.find(rules[0], reach=reach, lines=lines, at=at, zone=zone)
    most = view.book.find(rules[1], reach=reach, lines=lines, at=at, zone=zone)
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
        from_ft=asked.span[0],
        to_ft=asked.span[1],
        text=f"Two requirements cannot both hold for {asked.name}: '{least.rule}' and '{most.rule}'.",
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
