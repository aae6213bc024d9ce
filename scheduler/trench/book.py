"""The rules as they stand at one site: built-in values, overridden by sheets and the site file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scheduler.site.ground import Line, Reach
from scheduler.site.site_record import Site
from scheduler.trench.register import RULES
from scheduler.trench.rule import Value
from scheduler.trench.sheets import SheetEntry, sheets_of


@dataclass(frozen=True, slots=True)
class Local:
    """One local value: an entry of a rule sheet, or of `rules:` in the site file."""

    rule: str
    value: float
    items: tuple[str, ...]
    source: str
    who: str
    cites: bool
    """Whether it names the section or page it comes from."""
    entry: SheetEntry | None = None
    """What it applies to, when it comes from a sheet."""
    reaches: tuple[str, ...] = ()
    """Where it applies, when it comes from the site file; empty: everywhere."""

    def holds(self, reach: Reach | None, lines: Sequence[Line]) -> bool:
        """Tell whether it applies at a reach and to any of the lines."""
        if self.reaches:
            return reach is not None and reach.id in self.reaches
        entry = self.entry
        if entry is None:
            return True
        if entry.places and (reach is None or reach.place not in entry.places):
            return False
        if not (entry.kinds or entry.uses or entry.owners or entry.materials):
            return True
        return any(_fits(entry, line) for line in lines)


def _fits(entry: SheetEntry, line: Line) -> bool:
    return (
        (not entry.kinds or line.kind in entry.kinds)
        and (not entry.uses or line.use in entry.uses)
        and (not entry.owners or line.owner in entry.owners)
        and (not entry.materials or line.material in entry.materials)
    )


def takes_number(rule_id: str) -> bool:
    """Tell whether the site file may give a rule's value: the rule exists, may be local, and is no list."""
    rule = RULES.get(rule_id)
    return rule is not None and rule.local and rule.form in ("number", "yes")


class Book:
    """The rule values that hold at a site; raises BadInput when a sheet it names cannot be read."""

    def __init__(self, site: Site) -> None:
        self.frost_depth_in = site.site.frost_depth_in
        self.from_sheets = tuple(
            Local(
                rule=entry.rule,
                value=entry.number,
                items=entry.items,
                source=sheet.cited(entry),
                who=entry.who or sheet.who,
                cites=entry.source is not None,
                entry=entry,
            )
            for sheet in sheets_of(site)
            for entry in sheet.entries
        )
        self.from_site = tuple(
            Local(
                rule=r.rule,
                value=r.value,
                items=(),
                source=r.source,
                who="the site file",
                cites=True,
                reaches=tuple(r.where),
            )
            for r in site.rules
            if takes_number(r.rule)
        )

    def find(
        self,
        rule_id: str,
        *,
        reach: Reach | None = None,
        lines: Sequence[Line] = (),
        built_in: float | None = None,
        source: str | None = None,
    ) -> Value | None:
        """Return the value of a rule at a reach and for lines, or None when nothing gives one.

        `built_in` and `source` stand for a value that a table gives at this place; without
        them the rule's default holds. Of several sheets the strictest counts; the site file's
        own `rules:` come last and win.
        """
        rule = RULES[rule_id]
        number = rule.default if built_in is None else built_in
        value = None if number is None else Value(rule=rule_id, value=number, source=source or rule.cited)
        sheets = [s for s in self.from_sheets if s.rule == rule_id and s.holds(reach, lines)]
        own = [s for s in self.from_site if s.rule == rule_id and s.holds(reach, lines)]
        local = own[-1] if own else None
        if local is None and sheets:
            strictest = {"at least": max, "at most": min}.get(rule.sense)
            local = strictest(sheets, key=lambda s: s.value) if strictest else sheets[-1]
        if local is None:
            return value
        return Value(
            rule=rule_id, value=local.value, source=local.source, built_in=number, items=local.items, local=True
        )

    def get(
        self,
        rule_id: str,
        *,
        reach: Reach | None = None,
        lines: Sequence[Line] = (),
        built_in: float | None = None,
        source: str | None = None,
    ) -> Value:
        """Return the value of a rule that has a built-in value; KeyError when it has none."""
        value = self.find(rule_id, reach=reach, lines=lines, built_in=built_in, source=source)
        if value is None:
            raise KeyError(rule_id)
        return value

    def asks(
        self, rule_id: str, *, reach: Reach | None = None, lines: Sequence[Line] = (), built_in: bool = False
    ) -> Value | None:
        """Return the value of a yes-or-no rule where it is asked for, else None."""
        value = self.find(rule_id, reach=reach, lines=lines, built_in=float(built_in))
        return value if value is not None and value.value > 0 else None
