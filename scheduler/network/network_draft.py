"""A network in the making: activities, links, dates and holds, collected part by part."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from math import ceil

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.network.kept_behind import KeptBehind
from scheduler.network.kind import Kind
from scheduler.network.model import (
    Activity,
    Booking,
    DateRule,
    Hold,
    Link,
    LinkType,
    Note,
    Opening,
    OpenLimit,
    Resource,
    Space,
    Ticket,
    VisitRule,
)
from scheduler.network.open_records import KeptShut, PricedNights, Way
from scheduler.network.prices import Mobilisation
from scheduler.worktime.calendar import Calendar

TRADE_ORDER = "trade sequence"
SITE_FILE = "site file"
COMMON = "common practice"


@dataclass(frozen=True, slots=True)
class Place:
    """Where an activity stands in the trench; the empty place is nowhere in it."""

    reach: str = ""
    alignment: str = ""
    from_ft: float = 0.0
    to_ft: float = 0.0


@dataclass(frozen=True, slots=True)
class Doing:
    """Who does an activity: the trade, what it holds meanwhile, and the hours it works by.

    `group` is who is in the reach meanwhile ('' when nobody is), see `Space`.
    """

    trade: str
    needs: tuple[tuple[str, int], ...]
    calendar: str
    group: str = ""


@dataclass(slots=True)
class NetworkDraft:
    """Records collected so far; ids are kept unique, and links are drawn once."""

    calendars: Mapping[str, Calendar]
    tick_minutes: int
    overrides: Mapping[str, float]
    """Hours by activity id, in place of what quantities give."""
    least_start_minutes: int = 0
    """Work that goes on after its hours close is not begun with less than this left of them."""
    activities: dict[str, Activity] = field(default_factory=dict)
    ticks: dict[str, float] = field(default_factory=dict)
    """The work of each activity before it is rounded up to whole ticks."""
    groups: dict[str, str] = field(default_factory=dict)
    """Who is in the reach during an activity."""
    also_in: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """All reaches that an activity occupies, where they are not just its own."""
    stands: dict[str, tuple[tuple[str, float], ...]] = field(default_factory=dict)
    """Where people stand, as (alignment, station), who work beside the trench and in no reach."""
    links: dict[str, Link] = field(default_factory=dict)
    followers: dict[str, list[str]] = field(default_factory=dict)
    """What is linked to start after each activity, in order of drawing."""
    dates: list[DateRule] = field(default_factory=list)
    holds: list[Hold] = field(default_factory=list)
    visit_rules: list[VisitRule] = field(default_factory=list)
    resources: list[Resource] = field(default_factory=list)
    spaces: list[Space] = field(default_factory=list)
    openings: list[Opening] = field(default_factory=list)
    open_limits: list[OpenLimit] = field(default_factory=list)
    kept_shut: list[KeptShut] = field(default_factory=list)
    kept_behind: list[KeptBehind] = field(default_factory=list)
    ways: list[Way] = field(default_factory=list)
    rentals: list[PricedNights] = field(default_factory=list)
    unpaved: list[Opening] = field(default_factory=list)
    tickets: list[Ticket] = field(default_factory=list)
    bookings: list[Booking] = field(default_factory=list)
    mobilisations: list[Mobilisation] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    """What the order of the work cannot hold as it should."""
    _longest: dict[str, int] = field(default_factory=dict)

    def add(
        self,
        id_: str,
        name: str,
        kind: Kind,
        hours: float,
        doing: Doing,
        *,
        because: str,
        source: str,
        place: Place | None = None,
        lines: Iterable[str] = (),
        layer: int | None = None,
        one_window: bool = False,
    ) -> str:
        """Add an activity of `hours` of work and return its id.

        Work is whole ticks, at least one. An activity asked to fit one window that no window
        of its calendar can hold may span windows instead, unless it is an inspection or
        outside work: those are left for `check_network` to report.
        """
        place = place or Place()
        if id_ in self.activities:
            text = "Two activities would have this id; give one of the things it is made from another name."
            raise BadInput([Finding("activity.twice", Severity.STOP, id_, text, source=SITE_FILE)])
        if id_ in self.overrides:
            hours, source = self.overrides[id_], f"{SITE_FILE}: durations"
        self.ticks[id_] = hours * 60.0 / self.tick_minutes
        work = max(1, ceil(round(self.ticks[id_], 6)))
        if one_window and not kind.by_others and work > self.longest_window(doing.calendar):
            one_window = False
        least = 0 if one_window or kind.by_others else ceil(self.least_start_minutes / self.tick_minutes)
        self.activities[id_] = Activity(
            id=id_,
            name=name,
            kind=kind,
            work=work,
            calendar=doing.calendar,
            because=because,
            source=source,
            one_window=one_window,
            least_start=min(least, self.longest_window(doing.calendar)),
            needs=doing.needs,
            trade=doing.trade,
            reach=place.reach,
            alignment=place.alignment,
            from_ft=place.from_ft,
            to_ft=place.to_ft,
            lines=tuple(lines),
            layer=layer,
        )
        self.groups[id_] = doing.group
        return id_

    def occupy(self, id_: str, group: str, reaches: Iterable[str]) -> None:
        """Let people of a group be in these reaches, whole, during an activity."""
        self.groups[id_] = group
        self.also_in[id_] = tuple(dict.fromkeys(reaches))

    def milestone(self, id_: str, name: str, calendar: str, *, place: Place, because: str, source: str) -> str:
        """Add an activity without work, which marks that others are done, and return its id."""
        self.activities[id_] = Activity(
            id=id_,
            name=name,
            kind=Kind.MILESTONE,
            work=0,
            calendar=calendar,
            because=because,
            source=source,
            reach=place.reach,
            alignment=place.alignment,
            from_ft=place.from_ft,
            to_ft=place.to_ft,
        )
        self.groups[id_] = ""
        return id_

    def link(
        self,
        before: str,
        after: str,
        *,
        because: str,
        source: str = TRADE_ORDER,
        lag: int = 0,
        at_most: bool = False,
    ) -> None:
        """Let `after` start no earlier than `lag` elapsed ticks after `before` finishes.

        With `at_most` no later than that. Of two links between the same pair the longer
        lag stays.
        """
        id_ = f"{before} > {after}" + (" (at most)" if at_most else "")
        known = self.links.get(id_)
        if known is None and not at_most:
            self.followers.setdefault(before, []).append(after)
        if known is None or known.lag < lag:
            self.links[id_] = Link(
                id_, before, after, LinkType.FS, lag=lag, at_most=at_most, because=because, source=source
            )

    def longest_window(self, calendar: str) -> int:
        """Return the length of the longest window of a calendar, in ticks."""
        if calendar not in self._longest:
            self._longest[calendar] = max((b - a for a, b in self.calendars[calendar].windows), default=0)
        return self._longest[calendar]

    def check_overrides(self) -> None:
        """Raise BadInput for each duration given for an activity that does not exist."""
        unknown = sorted(set(self.overrides) - set(self.activities))
        findings = []
        for id_ in unknown:
            near = get_close_matches(id_, self.activities, n=1, cutoff=0.0)
            findings.append(
                Finding(
                    rule="durations.unknown-activity",
                    severity=Severity.STOP,
                    where=f"durations.{id_}",
                    text="A duration is given for an activity that this site does not have.",
                    found=id_,
                    required=f"an activity id such as {near[0]}" if near else "an activity id",
                    source=SITE_FILE,
                    remedy="Use the id shown in the plan, or drop the entry.",
                )
            )
        if findings:
            raise BadInput(findings)
