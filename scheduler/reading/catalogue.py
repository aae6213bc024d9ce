"""The catalogue: every layout rule of the register, every kind of rule that binds dates, and every rate."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache

from scheduler.explain.families import KINDS
from scheduler.reading.date_rules import DATE_FAMILIES
from scheduler.reading.fields_at import field_at_place, places_of
from scheduler.site.work_rates import WorkRates, sentence_of, source_of
from scheduler.trench.needs import needs_of
from scheduler.trench.register import RULES
from scheduler.trench.rule import Form, LayoutRule

_LIST: dict[Form, str] = {
    "materials": "a list of materials",
    "kinds": "a list of kinds of line",
    "depths": "a list of depths",
    "stages": "a list of stages of inspection",
    "shells": "a list of shells",
    "fills": "a list of materials of fill",
    "tests": "a list of kinds of test",
    "structures": "a list of kinds of structure",
    "permits": "a list of permits",
    "words": "the requirement in words",
}


@dataclass(frozen=True, slots=True)
class CatalogueEntry:
    """One rule as people look it up. Amounts are in words, with their unit."""

    id: str
    of: str
    """'layout', 'dates' or 'rates'."""
    sentence: str
    value: str
    """Its value where nobody gives another, with its sense and unit, or where the value comes from."""
    needs: tuple[str, ...]
    """Fields of a site file that it must know."""
    change: str
    """Where it can be changed, in a sentence."""
    changed_in: str
    """The same in a word: 'file', 'sheet', 'journal' or 'no'."""
    source: str
    """With its edition, and how far the value was verified."""

    @property
    def texts(self) -> tuple[str, str, str]:
        """What of it can be looked for, the most telling first."""
        about = f"{self.id} {self.id.replace('-', ' ')} {self.sentence}"
        return about.lower(), f"{self.source} {self.of} {self.value}".lower(), " ".join(self.needs).lower()


@cache
def catalogue() -> tuple[CatalogueEntry, ...]:
    """Return every rule: those of the layout in the order of the register, those of dates, then the rates."""
    layout = (_layout_entry(rule) for rule in RULES.values())
    return (*layout, *(_date_entry(kind) for kind in KINDS), *(_rate_entry(name) for name in WorkRates.model_fields))


def entries_with(word: str) -> tuple[CatalogueEntry, ...]:
    """Return the rules in which every part of a word or phrase occurs; all of them for an empty one.

    The rule of that very id alone where there is one; else those that say it in their name or sentence;
    else in their value or source; else in the fields that they need.
    """
    wanted = word.lower().split()
    if exact := tuple(e for e in catalogue() if e.id == " ".join(wanted)):
        return exact
    for place in range(3):
        if found := tuple(e for e in catalogue() if all(part in e.texts[place] for part in wanted)):
            return found
    return ()


def words_near(word: str) -> tuple[str, ...]:
    """Return rules and words of the catalogue that are most like one that is in none of it."""
    said = " ".join(f"{e.id.replace('-', ' ')} {e.sentence}" for e in catalogue()).lower()
    words = sorted({w.strip(".,:;()'\"").removesuffix("'s") for w in said.split()})
    known = dict.fromkeys([*(e.id for e in catalogue()), *(w for w in words if len(w) > 3)])
    return tuple(get_close_matches(word.lower(), known, n=4, cutoff=0.6))


def _layout_entry(rule: LayoutRule) -> CatalogueEntry:
    return CatalogueEntry(
        rule.id,
        "layout",
        rule.sentence,
        _value(rule),
        needs_of(rule) or places_of(rule.field),
        _change(rule),
        "no" if not rule.local else "sheet" if rule.form in _LIST else "file",
        rule.cited,
    )


def _value(rule: LayoutRule) -> str:
    only_local = rule.basis == "local"
    if rule.form in _LIST:
        return f"{_LIST[rule.form]}: {'only a sheet gives it' if only_local else 'from its table'}"
    if rule.form == "yes":
        return "no, until a sheet or the site file asks for it" if only_local else "yes, where it applies"
    unit = f" {rule.unit}" if rule.unit else ""
    if rule.default is not None:
        return f"{rule.sense} {rule.default:.4g}{unit}"
    given = "only a sheet or the site file gives it" if only_local else "from its table, or as the trench is"
    return f"{rule.sense}{unit and f' ({rule.unit})'}: {given}"


def _change(rule: LayoutRule) -> str:
    if not rule.local:
        return "Nowhere: it is geometry, or for people to settle."
    if rule.form in _LIST:
        return f"In a sheet: {{rule: {rule.id}, value: [...], source: ...}}."
    value = "'yes'" if rule.form == "yes" else "..."
    number = "1 (yes) or 0 (no)" if rule.form == "yes" else "..."
    return (
        f"In the site file, under rules: {{rule: {rule.id}, value: {number}, source: ...}}; "
        f"in a sheet, under entries: {{rule: {rule.id}, value: {value}, source: ...}}."
    )


def _date_entry(kind: str) -> CatalogueEntry:
    family = DATE_FAMILIES[kind]
    fields = [(place, field_at_place(place)) for place in family.fields]
    given = [f"{place}: {f.default}{f' {f.unit}' if f.unit else ''}" for place, f in fields if f.default is not None]
    plain = ", ".join(given) if given else "as the site file says it" if fields else "as the journal says it"
    change = family.change or f"In the site file: {', '.join(family.fields)}."
    changed = "journal" if family.change else "file"
    return CatalogueEntry(
        kind, "dates", family.sentence, family.value or plain, family.fields, change, changed, family.source
    )


def _rate_entry(name: str) -> CatalogueEntry:
    place = f"rates.{name}"
    field = field_at_place(place)
    value = f"{field.default}{f' {field.unit}' if field.unit else ''}"
    change = f"In the site file, under rates: {{{name}: ...}}."
    return CatalogueEntry(name, "rates", sentence_of(name), value, (place,), change, "file", source_of(name))
