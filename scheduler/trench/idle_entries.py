"""Local values that applied nowhere, each with the reason."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.trench.book import Local
from scheduler.trench.checks.sheet_checks import kinds_of
from scheduler.trench.checks.view import View
from scheduler.trench.conditions import Conditions
from scheduler.trench.register import RULES
from scheduler.trench.rules.surround_rules import NOUNS, clear_id, edge_id
from scheduler.trench.sheets import SheetEntry


@dataclass(frozen=True, slots=True)
class IdleEntry:
    """An entry of a sheet, or of `rules` in the site file, that applied nowhere."""

    rule: str
    source: str
    why: str
    file: str = ""
    line: int | None = None


def idle_entry(view: View, local: Local, *, outweighed: bool) -> IdleEntry:
    """Return a local value that never counted, with the reason; `outweighed`: another one counted wherever it held."""
    entry = local.entry
    why = "another value counts wherever it applies" if outweighed else _why(view, local)
    return IdleEntry(local.rule, local.source, why, entry.file if entry else "", entry.line if entry else None)


def _why(view: View, local: Local) -> str:
    entry = local.entry
    thing = next((w for w in NOUNS if local.rule in (clear_id(w), edge_id(w)) and w != "trench"), None)
    if thing is not None and not any(s.what == thing for s in view.site.surroundings):
        return f"no {thing.replace('_', ' ')} is written under `surroundings`"
    if entry is None:
        where = f" in {', '.join(local.reaches)}" if local.reaches else ""
        return f"nothing{where} that the rule is about: {RULES[local.rule].sentence}"
    missing = _missing(view, entry)
    if missing:
        return f"there is no {' and no '.join(missing)}"
    known = kinds_of(RULES[local.rule])
    about = [(reach, line) for reach, line, _ in view.placed() if not known or line.kind in known]
    if not entry.along and about and not any(local.holds(reach, [line]) for reach, line in about):
        if any(entry.fits(line, reach) for reach, line in about):
            return "what it excepts is all there is here that it would apply to"
        return "no one line has all that it asks for, in such a place"
    return f"there is nothing here that the rule is about: {RULES[local.rule].sentence}"


def _missing(view: View, entry: SheetEntry) -> list[str]:
    """Return the conditions of an entry that nothing on the site meets, each by itself."""
    lines, reaches = view.site.lines, view.site.reaches
    asked = (
        ("line of kind", entry.kinds, {line.kind for line in lines}),
        ("line used as", entry.uses, {line.use for line in lines}),
        ("line of owner", entry.owners, {line.owner for line in lines}),
        ("line of material", entry.materials, {line.material for line in lines}),
        ("line in", entry.encased, {"none", *(e.shell for line in lines for e in line.encased)}),
        ("reach in place", entry.places, {reach.place for reach in reaches}),
        ("reach under", entry.surfaces, {reach.surface for reach in reaches}),
        ("reach in soil", entry.soils, {reach.soil for reach in reaches}),
    )
    missing = [
        f"{words} {' or '.join(str(w) for w in wanted)}"
        for words, wanted, there in asked
        if wanted and not set(map(str, wanted)) & set(map(str, there))
    ]
    for words, only in (
        ("line of such a size", Conditions(size_from=entry.size_from, size_to=entry.size_to)),
        ("line rated for such amperes", Conditions(amperes_from=entry.amperes_from, amperes_to=entry.amperes_to)),
        ("line of such a voltage", Conditions(volts_from=entry.volts_from, volts_to=entry.volts_to)),
    ):
        if not any(only.fits_line(line) for line in lines):
            missing.append(words)
    return missing
