"""Checks of rule sheets against each other and the site: entries that can never apply, sheets that disagree."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches
from itertools import combinations

from scheduler.site.ground import LineKind
from scheduler.trench.book import Local
from scheduler.trench.checks.view import Spot, View, span_of
from scheduler.trench.register import RULES
from scheduler.trench.rule import LayoutRule
from scheduler.trench.sheets import SheetEntry

_WIRED: tuple[LineKind, ...] = ("power", "lighting", "communications")
_PIPED: tuple[LineKind, ...] = ("water", "reclaimed", "irrigation", "sewer", "storm", "gas")
_SPEAKS_OF: dict[str, tuple[LineKind, ...]] = {
    **dict.fromkeys(
        (
            "bends-total", "no-factory-bends", "sweep-radius", "pull-length", "pull-string", "pull-line-strength",
            "box-length", "box-gap", "conduit-fill", "conduit-material", "riser-height", "riser-material",
            "riser-wrap", "riser-movement", "thermal-movement", "shared-box",
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
_MISTYPED = 0.85
"""How alike two names are, of 1, for one to be taken as the other mistyped."""


def kinds_of(rule: LayoutRule) -> tuple[LineKind, ...]:
    """Return the kinds of line that a rule can be asked about; empty: all."""
    return rule.kinds or _SPEAKS_OF.get(rule.id, ())


def never_bites(view: View) -> Iterator[Spot]:
    """An entry of a sheet speaks of kinds that its rule knows, and of owners whose names are written alike."""
    owners = sorted({line.owner for line in view.site.lines})
    for local in view.book.from_sheets:
        entry = local.entry
        if entry is None:
            continue
        known = kinds_of(RULES[local.rule])
        if known and entry.kinds and not set(entry.kinds) & set(known):
            yield _entry_spot(
                local,
                entry,
                f"An entry for '{local.rule}' can never apply: the rule never concerns such lines.",
                found=", ".join(entry.kinds),
                required=" or ".join(known),
            )
        for owner in entry.owners:
            guess = _mistyped(owner, owners)
            if guess:
                yield _entry_spot(
                    local,
                    entry,
                    f"An entry for '{local.rule}' names an owner who owns no line; did you mean '{guess}'?",
                    found=f"'{owner}'",
                    required="an owner as the site file writes it",
                )


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
        if RULES[local.rule].sense in ("is", "one of") and local.rule != "inspect-stages":
            asked.setdefault(local.rule, []).append(local)
    for rule, entries in asked.items():
        for one, other in combinations(entries, 2):
            if (one.items, one.value) != (other.items, other.value):
                yield from _both_hold(view, rule, one, other)


def _both_hold(view: View, rule: str, one: Local, other: Local) -> Iterator[Spot]:
    known = kinds_of(RULES[rule])
    for reach in view.site.reaches:
        lines = [view.lines[p.line] for p in view.sections[reach.id].placed]
        for line in lines:
            if (known and line.kind not in known) or not (one.holds(reach, [line]) and other.holds(reach, [line])):
                continue
            start, end = span_of(reach)
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


def _said(local: Local) -> str:
    if RULES[local.rule].form == "yes":
        return "yes" if local.value > 0 else "no"
    return ", ".join(local.items) or f"{local.value:g}"
