"""The rules as they stand at one site: built-in values, overridden by sheets and the site file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from scheduler.site.ground import Line, Reach
from scheduler.site.people import LocalRule
from scheduler.site.site_record import Site
from scheduler.trench.along import crossings_of, cut_at, ends_on, stretch_within
from scheduler.trench.conditions import Conditions
from scheduler.trench.register import RULES
from scheduler.trench.rule import LayoutRule, Value
from scheduler.trench.sheets import SheetEntry, sheets_of
from scheduler.units import parse_amount


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
    written: str = ""
    """The amount as the sheet writes it, in a unit that is not the rule's."""
    sheet: str = ""
    """The name of its sheet; '' for the site file."""
    crossings: Mapping[str, Sequence[float]] = field(default_factory=dict, compare=False)
    """Stations at which something crosses each alignment [ft]."""

    def holds(self, reach: Reach | None, lines: Sequence[Line], *, at: float | None = None, zone: str = "") -> bool:
        """Tell whether it applies at a reach and to any of the lines, at a station [ft] and in a zone of the fill."""
        if self.reaches:
            return reach is not None and reach.id in self.reaches
        entry = self.entry
        if entry is None:
            return True

        def fits(conditions: Conditions, line: Line | None) -> bool:
            return conditions.fits(line, reach, at=at, zone=zone, crossings=self.crossings)

        return any(fits(entry, x) and not any(fits(e, x) for e in entry.except_) for x in lines or (None,))

    @property
    def names_size(self) -> bool:
        """Whether it says for what sizes of line it is meant."""
        return self.entry is not None and (self.entry.size_from is not None or self.entry.size_to is not None)

    def beaten_by(self, other: Local, reach: Reach | None, lines: Sequence[Line], at: float | None, zone: str) -> bool:
        """Tell whether a more special entry of the same sheet stands in its place for all the lines it holds for.

        One entry is more special than another when whatever meets its conditions meets the other's too. A rule
        for a pair of lines is one for both: an entry for either of them counts for the pair.
        """
        one, two = self.entry, other.entry
        if one is None or two is None or one is two or self.sheet != other.sheet:
            return False
        rule = RULES[self.rule]
        if not two.implies(one, known=rule.kinds) or one.implies(two, known=rule.kinds):
            return False
        if rule.of_pair or len(lines) < 2:
            return True
        return all(other.holds(reach, [x], at=at, zone=zone) for x in lines if self.holds(reach, [x], at=at, zone=zone))


def takes_number(rule_id: str) -> bool:
    """Tell whether the site file may give a rule's value: the rule exists, may be local, and is no list."""
    rule = RULES.get(rule_id)
    return rule is not None and rule.local and rule.form in ("number", "yes")


def own_amount(own: LocalRule) -> float | None:
    """Return a value of the site file in the unit of its rule, or None where its unit measures something else."""
    try:
        return parse_amount(f"{own.value} {own.unit or ''}", RULES[own.rule].unit)
    except ValueError:
        return None


class Book:
    """The rule values that hold at a site; raises BadInput when a sheet it names cannot be read."""

    def __init__(self, site: Site) -> None:
        self.frost_depth_in = site.site.frost_depth_in
        self.crossings = crossings_of(site)
        self.from_sheets = tuple(
            Local(
                rule=entry.rule,
                value=entry.number,
                items=entry.items,
                source=sheet.cited(entry),
                who=entry.who or sheet.who,
                cites=entry.source is not None,
                entry=entry,
                written=entry.written,
                sheet=sheet.name,
                crossings=self.crossings,
            )
            for sheet in sheets_of(site)
            for entry in sheet.entries
        )
        self.from_site = tuple(
            Local(
                rule=r.rule,
                value=amount,
                items=(),
                source=r.source,
                who="the site file",
                cites=True,
                reaches=tuple(r.where),
                written=f"{r.value:g} {r.unit}" if r.unit and r.unit != RULES[r.rule].unit else "",
            )
            for r in site.rules
            if takes_number(r.rule) and (amount := own_amount(r)) is not None
        )

    def find(
        self,
        rule_id: str,
        *,
        reach: Reach | None = None,
        lines: Sequence[Line] = (),
        built_in: float | None = None,
        source: str | None = None,
        at: float | None = None,
        zone: str = "",
    ) -> Value | None:
        """Return the value of a rule at a reach and for lines, or None when nothing gives one.

        `built_in` and `source` stand for a value that a table gives at this place; without
        them the rule's default holds. `at` is a station [ft] and `zone` a zone of the fill, for entries
        that speak of them. Within one sheet the most special entry counts; of several sheets the
        strictest; the site file's own `rules:` come last and win. Where the code goes by the size of a line,
        a local value that names no size does not ask for less than the code does.
        """
        rule = RULES[rule_id]
        number = rule.default if built_in is None else built_in
        value = None if number is None else Value(rule=rule_id, value=number, source=source or rule.cited)
        sheets = self.counting(rule_id, reach, lines, at=at, zone=zone)
        own = [s for s in self.from_site if s.rule == rule_id and s.holds(reach, lines)]
        local = own[-1] if own else _strictest(rule, sheets)
        if local is None:
            return value
        found = Value(
            rule=rule_id,
            value=local.value,
            source=local.source,
            built_in=number,
            items=local.items,
            local=True,
            written=local.written,
        )
        for_one_size = rule.by_size and not local.names_size and found.weaker(rule)
        return value if for_one_size else found

    def counting(
        self, rule_id: str, reach: Reach | None, lines: Sequence[Line], *, at: float | None = None, zone: str = ""
    ) -> list[Local]:
        """Return the entries of sheets that count for a rule at a place: those that no more special one replaces."""
        held = [s for s in self.from_sheets if s.rule == rule_id and s.holds(reach, lines, at=at, zone=zone)]
        return [s for s in held if not any(s.beaten_by(o, reach, lines, at, zone) for o in held)]

    def gives(self, rule_id: str, reach: Reach, lines: Sequence[Line]) -> bool:
        """Tell whether a sheet or the site file gives a rule a value of its own here."""
        return any(s.rule == rule_id and s.holds(reach, lines) for s in (*self.from_sheets, *self.from_site))

    def parts(
        self, rules: Iterable[str], line: Line, reach: Reach, *, by_shell: bool = False
    ) -> list[tuple[float, float]]:
        """Return the parts of a reach in which the values of some rules for a line are the same throughout [ft].

        One part, from where the line enters to where it leaves, unless a sheet speaks of ends, crossings or shells, or
        `by_shell` asks for the shells anyway.
        """
        spans = stretch_within(line, reach)
        whole = [(min(a for a, _ in spans), max(b for _, b in spans))]
        wanted = set(rules)
        asked = [s.entry for s in self.from_sheets if s.entry is not None and s.rule in wanted]
        told = [c for entry in asked for c in (entry, *entry.except_) if c.along]
        if not told and not (by_shell and line.encased):
            return whole
        points = (*ends_on(line, reach.alignment), *self.crossings.get(reach.alignment, ()))
        cuts = [p + side * c.part_ft for c in told if c.part for p in points for side in (-1.0, 1.0)]
        cuts += [s for e in line.encased if e.alignment == reach.alignment for s in (e.from_, e.to)]
        return cut_at(spans, cuts)

    def get(
        self,
        rule_id: str,
        *,
        reach: Reach | None = None,
        lines: Sequence[Line] = (),
        built_in: float | None = None,
        source: str | None = None,
        at: float | None = None,
    ) -> Value:
        """Return the value of a rule that has a built-in value; KeyError when it has none."""
        value = self.find(rule_id, reach=reach, lines=lines, built_in=built_in, source=source, at=at)
        if value is None:
            raise KeyError(rule_id)
        return value

    def asks(
        self,
        rule_id: str,
        *,
        reach: Reach | None = None,
        lines: Sequence[Line] = (),
        built_in: bool = False,
        at: float | None = None,
    ) -> Value | None:
        """Return the value of a yes-or-no rule where it is asked for, else None."""
        value = self.find(rule_id, reach=reach, lines=lines, built_in=float(built_in), at=at)
        return value if value is not None and value.value > 0 else None


def _strictest(rule: LayoutRule, entries: Sequence[Local]) -> Local | None:
    """Return the entry that asks for most, yes more than no; of lists the last."""
    if not entries:
        return None
    strictest = max if rule.form == "yes" else {"at least": max, "at most": min}.get(rule.sense)
    return strictest(entries, key=lambda s: s.value) if strictest else entries[-1]
