"""What a layout check looked at: the rules it applied, where, with what value, and what it could not tell."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence, Sized
from dataclasses import dataclass, replace
from typing import Literal

from scheduler.site.fields import retold_fields
from scheduler.site.ground import Line, Reach
from scheduler.site.site_record import Site
from scheduler.trench.along import stretch_within
from scheduler.trench.book import Book, Local
from scheduler.trench.checks import local_value_checks
from scheduler.trench.checks.sheet_checks import OF_TRENCH
from scheduler.trench.checks.surround_checks import settled
from scheduler.trench.checks.view import View
from scheduler.trench.cover_depth import least_cover
from scheduler.trench.idle_entries import IdleEntry, idle_entry
from scheduler.trench.junctions import junctions
from scheduler.trench.layout_check import CHECKS
from scheduler.trench.open_questions import OpenQuestion, uncovered, unknown
from scheduler.trench.pipes import CONDUITS, is_wired
from scheduler.trench.register import RULES
from scheduler.trench.rule import LayoutRule, Value
from scheduler.units import format_amount, retold

Whose = Literal["built-in", "sheet", "site file"]
_EVERYWHERE = ("locate-ticket", "width-lines", "depth-lines", "protect-engineer", "protect-unknown-soil")
_ALL_WELL = "Everything asked, kept."


@dataclass(frozen=True, slots=True)
class Applied:
    """One rule that was applied at one reach."""

    rule: str
    value: str
    """With its unit; '' for a rule without a number of its own."""
    whose: Whose
    source: str
    lines: tuple[str, ...]
    """Ids of the lines it was applied to; empty: to the trench itself."""
    reach: str
    """Id of the reach; '' where it lies in none."""


JOINED_FIRST = "laid and joined before the main is covered there; tested and seen where the file asks for it"
"""What is done at each place where lines join."""


@dataclass(frozen=True, slots=True)
class Joined:
    """One place where lines join, or where somebody settled something, in a sentence with the ids of its reaches."""

    text: str
    reaches: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LookedAt:
    """All that a layout check looked at, and all that it could not tell."""

    applied: tuple[Applied, ...]
    idle: tuple[IdleEntry, ...]
    """Entries of sheets, and of `rules` in the site file, that applied nowhere."""
    unknown: tuple[OpenQuestion, ...]
    """What it could not know because a field was left out."""
    uncovered: tuple[OpenQuestion, ...]
    """What nothing in the site file covers."""
    joints: tuple[Joined, ...] = ()
    """Where lines join; `JOINED_FIRST` says what is done there before the main is covered."""
    settled: tuple[Joined, ...] = ()
    """What was not judged because somebody settled it, each with its reach."""

    def at(self, reach: str) -> LookedAt:
        """Return what concerns one reach by its id; entries that applied nowhere concern none."""
        return LookedAt(
            tuple(a for a in self.applied if a.reach == reach),
            (),
            tuple(g for g in self.unknown if not g.reaches or reach in g.reaches),
            tuple(g for g in self.uncovered if not g.reaches or reach in g.reaches),
            tuple(j for j in self.joints if reach in j.reaches),
            tuple(s for s in self.settled if reach in s.reaches),
        )

    @property
    def untold(self) -> str:
        """How much could not be known and how much nothing covers, in words; '' when that is nothing."""
        counted = ((self.unknown, "could not be known"), (self.uncovered, "nothing in the file covers"))
        return " and ".join(f"{_count(len(open_), 'thing')} {words}" for open_, words in counted if open_)

    def verdict(self, found: Sized) -> str:
        """Say in a sentence how it went; three words only when all is known, covered and kept."""
        if not found:
            return f"What was asked is kept, but {self.untold}." if self.untold else _ALL_WELL
        more = f"; {self.untold}" if self.untold else ""
        return f"{_count(len(found), 'finding')} on the layout{more}."


def _count(number: int, word: str) -> str:
    return f"{number} {word}" + ("" if number == 1 else "s")


class _WatchedBook(Book):
    """A book of rules that keeps what it was asked."""

    def __init__(self, site: Site) -> None:
        super().__init__(site)
        self.asked: dict[tuple[str, str, tuple[str, ...], float | None, str], tuple[Value, Whose]] = {}
        self.entries = (*self.from_sheets, *self.from_site)
        self.held: set[int] = set()
        """Indices of `entries` that applied somewhere."""
        self.used: set[int] = set()
        """Indices of `entries` whose value was the one that counts somewhere."""

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
        """Return what a book says, and keep it."""
        value = super().find(rule_id, reach=reach, lines=lines, built_in=built_in, source=source, at=at, zone=zone)
        held = [k for k, s in enumerate(self.entries) if s.rule == rule_id and s.holds(reach, lines, at=at, zone=zone)]
        self.held.update(held)
        if value is None:
            return None
        whose: Whose = "built-in"
        if value.local:
            whose = "site file" if max(held, default=-1) >= len(self.from_sheets) else "sheet"
            self.used.update(k for k in held if _gives(self.entries[k], value))
        if RULES[rule_id].form != "yes" or value.value > 0:
            self.asked[rule_id, reach.id if reach else "", tuple(line.id for line in lines), at, zone] = value, whose
        return value


def _gives(local: Local, value: Value) -> bool:
    return (local.source, local.value, local.items) == (value.source, value.value, value.items)


def look(site: Site) -> LookedAt:
    """Return what the layout check of a site looks at; raises BadInput when a rule sheet cannot be read."""
    book = _WatchedBook(site)
    view = View.of(site, book)
    for check in CHECKS:
        if check is not local_value_checks.weakened:
            for _ in check(view):
                pass
    applied = dict.fromkeys([*_fixed(view), *_by_book(view, book), *_added(view)])
    added = {k for k, s in enumerate(book.entries) if RULES[s.rule].adds and _somewhere(view, s)}
    return LookedAt(
        applied=tuple(applied),
        idle=tuple(
            idle_entry(view, local, outweighed=k in book.held)
            for k, local in enumerate(book.entries)
            if k not in book.used | added
        ),
        unknown=tuple(_told(question) for question in unknown(view)),
        uncovered=tuple(_told(question) for question in uncovered(view)),
        joints=tuple(_joints(view)),
        settled=tuple(
            Joined(
                f"Not judged in {reach.id}, settled by {thing.settled}: {rule}, {thing.said}{lacks and f'; {lacks}'}.",
                (reach.id,),
            )
            for rule, thing, reach, lacks in settled(view)
        ),
    )


def _told(question: OpenQuestion) -> OpenQuestion:
    return replace(question, fill_in=retold_fields(question.fill_in))


def _joints(view: View) -> Iterator[Joined]:
    for junction in junctions(view.site):
        reaches = [
            r.id
            for r in view.site.reaches
            for spot in (junction.at, junction.end)
            if r.alignment == spot.alignment and r.from_ <= spot.station <= r.to
        ]
        yield Joined(f"{junction.said(view.site)}.", tuple(dict.fromkeys(reaches)))


def _by_book(view: View, book: _WatchedBook) -> Iterator[Applied]:
    reaches = {r.id: r for r in view.site.reaches}
    for (rule_id, reach, ids, at, _), (value, whose) in list(book.asked.items()):
        lines = () if rule_id.startswith(OF_TRENCH) else ids
        if RULES[rule_id].family == "cover" and reach in reaches:
            value = least_cover(book, view.lines[ids[0]], reaches[reach], at=at)
        source = value.source if value.local else retold(value.source)
        yield Applied(rule_id, _said(RULES[rule_id], value), whose, source, lines, reach)


def _said(rule: LayoutRule, value: Value) -> str:
    if rule.form == "yes":
        return "yes"
    return ", ".join(value.items) or format_amount(value.value, rule.unit, like=value.written)


def _fixed(view: View) -> Iterator[Applied]:
    """Yield the rules that take no local value and are looked at wherever there is something to look at."""
    for reach in view.site.reaches:
        for rule in _EVERYWHERE:
            yield Applied(rule, "", "built-in", retold(RULES[rule].cited), (), reach.id)
    for reach, line, _ in view.placed():
        on = {
            "frost-known": line.kind in ("water", "reclaimed"),
            "building-raceway": is_wired(line) and reach.place == "under_building",
            "conduit-size-known": line.material in CONDUITS and bool(line.conductors),
            "sweep-depth": any(b.vertical and b.alignment == reach.alignment for b in line.bends),
        }
        for rule in (r for r, there in on.items() if there):
            yield Applied(rule, "", "built-in", retold(RULES[rule].cited), (line.id,), reach.id)


def _added(view: View) -> Iterator[Applied]:
    """Yield the entries that hold beside each other: inspections, permits, neighbours, what people check."""
    for local in view.book.from_sheets:
        if RULES[local.rule].adds:
            said = f"{', '.join(local.items)} by {local.who}"
            for reach, line, _ in view.placed():
                if local.holds(reach, [line]):
                    yield Applied(local.rule, said, "sheet", local.source, (line.id,), reach.id)


def _somewhere(view: View, local: Local) -> bool:
    return any(local.holds(reach, [line]) for reach, line, _ in view.placed())


Rows = tuple[tuple[Applied, tuple[str, ...]], ...]


def by_line(site: Site, looked: LookedAt) -> dict[tuple[str, ...], Rows]:
    """Group what was applied: names of lines alike to their rules, each with the reaches where it is not everywhere.

    Lines to which the same rules apply with the same values stand together; () is the trench itself.
    """
    whole = {line.id: {r.id for r in site.reaches if stretch_within(line, r)} for line in site.lines}
    whole[""] = {r.id for r in site.reaches}
    shown = {a.reach for a in looked.applied}
    rows: dict[str, dict[Applied, list[str]]] = {}
    for one in looked.applied:
        for line in one.lines or ("",):
            rows.setdefault(line, {}).setdefault(replace(one, reach="", lines=()), []).append(one.reach)
    names = {line.id: line.name for line in site.lines}
    order = {rule: k for k, rule in enumerate(RULES)}
    grouped: dict[Rows, list[str]] = {}
    for line, applied in rows.items():
        said = tuple(
            (one, () if RULES[one.rule].family == "cross" else _only(applied[one], whole[line] & shown))
            for one in sorted(applied, key=lambda a: order[a.rule])
        )
        grouped.setdefault(said, []).append(names.get(line, ""))
    return {tuple(n for n in named if n): said for said, named in grouped.items()}


def _only(reaches: Sequence[str], whole: Collection[str]) -> tuple[str, ...]:
    """Return the reaches where a rule applies, or () where that is all of them."""
    return () if set(reaches) >= set(whole) else tuple(dict.fromkeys(r for r in reaches if r))
