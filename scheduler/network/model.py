"""The network a plan is made for: plain frozen records, no site, no solver.

All times are whole ticks of a `Clock` (`scheduler.worktime.clock`); tick 0 is the clock's
origin and spans are half-open [start, finish). Every rule has an `id`, a plain sentence
`because` and a `source`, so that no date is bound by anything that cannot be named.

Meaning of the words used below, shared by whoever solves or checks a network:

* An activity of `work` ticks occupies [start, finish), where `start` is open in its
  calendar, and finish is the tick at which `work` open ticks have passed since start
  (`Calendar.advance`). With `one_window`, all of it lies inside one window. With `least_start`, it is
  done by the end of the window in which it starts, or at least so many ticks of it are. An activity
  of no work has finish == start, and may stand at any tick.
* A lag of n ticks after t ends at t + n, or, when the lag names a calendar, at that
  calendar's `advance(t, n)`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from scheduler.findings import Finding
from scheduler.network.kept_behind import KeptBehind
from scheduler.network.kind import Kind
from scheduler.network.lying import Lying
from scheduler.network.open_records import KeptShut, PricedNights, Way
from scheduler.network.prices import Mobilisation, Rates
from scheduler.worktime.calendar import Calendar
from scheduler.worktime.clock import Clock


class LinkType(StrEnum):
    """Which ends a link joins: finish to start, start to start, and so on."""

    FS = "FS"
    SS = "SS"
    FF = "FF"
    SF = "SF"


class DateRole(StrEnum):
    """What a date rule stands for."""

    DATE = "date"
    """A date that somebody set."""
    NOTICE = "notice"
    """The notice that whoever comes to an appointment asks for."""
    TRADE_NOTICE = "trade notice"
    """The notice that a trade needs before it first comes."""
    DELAY = "delay"
    """Somebody gave word that they cannot come before then."""
    AS_OF = "as of"
    """What has not begun by the moment of planning starts no earlier than that moment."""

    @property
    def is_notice(self) -> bool:
        """Somebody must be called beforehand."""
        return self in (DateRole.NOTICE, DateRole.TRADE_NOTICE)


class ResourceKind(StrEnum):
    """Who or what is scarce."""

    CREW = "crew"
    MEMBER = "member"
    MACHINE = "machine"
    INSPECTOR = "inspector"
    OUTSIDE = "outside party"
    PLAIN = "resource"


@dataclass(frozen=True, slots=True)
class Activity:
    """One piece of work, or one inspector's look, with a fixed amount of work in ticks."""

    id: str
    name: str
    kind: Kind
    work: int
    calendar: str
    because: str = ""
    source: str = ""
    one_window: bool = False
    least_start: int = 0
    """Ticks that its hours must stay open once it starts, unless it is done sooner: nobody begins for minutes."""
    needs: tuple[tuple[str, int], ...] = ()
    """(resource id, units held from start to finish)."""
    trade: str = ""
    reach: str = ""
    alignment: str = ""
    from_ft: float = 0.0
    to_ft: float = 0.0
    lines: tuple[str, ...] = ()
    layer: int | None = None
    happened: bool = False
    """It is over. Its calendar is one window: the time in which it was really done."""
    contingency: int = 0
    """Ticks of `work` that are planned on top of what quantities give."""
    begun_part_of: str = ""
    """The activity whose begun part this is, which happened; the rest keeps that id. '' when it is whole."""


@dataclass(frozen=True, slots=True)
class Link:
    """A precedence with a lag.

    At least: end of `after` >= lag after the end of `before`. With `at_most` it is an upper
    bound instead: end of `after` <= lag after the end of `before` (a pass that expires).
    `lag_calendar` None counts elapsed ticks, else open ticks of that calendar.
    """

    id: str
    before: str
    after: str
    type: LinkType = LinkType.FS
    lag: int = 0
    lag_calendar: str | None = None
    at_most: bool = False
    because: str = ""
    source: str = ""
    family: str = "links"
    """The field of the network it comes from."""
    record: str = ""
    """Its record there; '' when it is one itself."""

    @property
    def keeps_apart(self) -> bool:
        """Whether the second can only start when the first has finished."""
        return self.type is LinkType.FS and self.lag >= 0 and not self.at_most

    @property
    def is_plain(self) -> bool:
        """Whether it says no more than that the second starts no sooner than the first finishes."""
        return self.keeps_apart and self.lag == 0


@dataclass(frozen=True, slots=True)
class DateRule:
    """A bound on one activity's start (or finish) against a fixed tick."""

    id: str
    activity: str
    at: int
    edge: str = "start"
    """'start' or 'finish'."""
    sense: str = "min"
    """'min' not before, 'max' not after, 'fixed' exactly then."""
    because: str = ""
    source: str = ""
    role: DateRole = DateRole.DATE


@dataclass(frozen=True, slots=True)
class Resource:
    """Crews, machines, inspectors: at most `capacity` units in use at any moment."""

    id: str
    name: str
    kind: ResourceKind = ResourceKind.PLAIN
    capacity: int = 1
    day_rate: float | None = 0.0
    """Of one unit, for each day at work; None: the site file gives none."""
    standing_rate: float | None = 0.0
    """The same for each working day on site without work."""
    stay_days: int = 3
    """With a longer gap between its days at work it does not stay on site."""
    setup_cost: float | None = 0.0
    """For each stretch that it works in, each day anew."""
    because: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Space:
    """Room that different groups may not share: a reach with one trade in it at a time.

    `occupants` are (activity id, group); two activities of different groups never overlap
    in clock time. People of one trade are one group; machines digging or filling in the
    reach, or within their swing of it, are the group 'machine'. Ground beside the trench,
    where people stand who work at the end of a line, is shared with such machines alone.
    """

    id: str
    reach: str
    """'' for ground that is no reach."""
    occupants: tuple[tuple[str, str], ...]
    because: str = ""
    source: str = ""
    where: str = ""
    """What people call ground that is no reach."""


@dataclass(frozen=True, slots=True)
class Opening:
    """A stretch of trench that stands open from the start of `opens` to the finish of `closes`."""

    id: str
    reach: str
    length_ft: float
    opens: str
    closes: str


@dataclass(frozen=True, slots=True)
class OpenLimit:
    """A cap on what stands open at any moment: feet of trench, or a count of stretches."""

    id: str
    capacity: int
    amounts: tuple[tuple[str, int], ...]
    """(opening id, amount: whole feet rounded up, decimetres on a site in metres, or 1)."""
    unit: str = "ft"
    because: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Renewal:
    """One further life of a locate ticket: must be called by `call_by`, then good to `expiry`."""

    id: str
    call_by: int
    expiry: int


@dataclass(frozen=True, slots=True)
class Ticket:
    """A locate ticket: its digs start no earlier than `clear` and finish by the expiry in force.

    Renewals are in order; using one presumes those before it. One whose `call_by` lies before
    the data date cannot be used.
    """

    id: str
    name: str
    clear: int
    expiry: int
    digs: tuple[str, ...]
    renewals: tuple[Renewal, ...] = ()
    renewal_cost: float | None = 0.0
    because: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class VisitRule:
    """One authority's visits for one inspection: which looks may share a visit.

    A visit is all looks made in one window of `calendar`. Each look is an activity of kind
    'inspect' on that calendar, inside one window. `max_looks` and `max_ft` cap one visit.
    `look_ft` gives the feet each look sees.
    """

    id: str
    name: str
    authority: str
    calendar: str
    looks: tuple[str, ...]
    look_ft: Mapping[str, float] = field(default_factory=dict)
    max_looks: int | None = None
    max_ft: float | None = None
    fee: float | None = 0.0
    """Of one visit; None: the site file gives none."""
    because: str = ""
    source: str = ""
    wait_cost_per_hour: float | None = 0.0
    """Of waiting on site between two looks; None: the site file gives none."""
    person: str = ""
    """Who looks: rules of one person share their visits of a day, and the highest of their fees is paid once."""


@dataclass(frozen=True, slots=True)
class Hold:
    """A hold (or witness) point: `gates` wait until `look` has passed."""

    id: str
    kind: str
    """'hold' or 'witness'."""
    name: str
    look: str
    """The inspection activity, or outside event, that releases it."""
    gates: tuple[str, ...]
    reaches: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    layer: int | None = None
    released_by: str = ""
    criteria: str = ""
    because: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Booking:
    """An appointment already made for the start of activities.

    Firm: each activity starts inside [at, until). Soft: it may move at `move_cost` (None: the site file gives none).
    `until` is `at + 1` for outside work, the end of the window for a visit.
    """

    id: str
    name: str
    activities: tuple[str, ...]
    at: int
    until: int
    firm: bool
    move_cost: float | None = 0.0
    because: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Target:
    """The latest tick by which every activity of the network must have finished."""

    id: str
    at: int
    because: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Note:
    """What no rule of a network can hold as it should be, and the reaches it concerns (none: the whole site)."""

    finding: Finding
    reaches: tuple[str, ...] = ()


@dataclass(frozen=True)
class Network:
    """Everything that binds the dates of one job. Order of the tuples is the order of ids."""

    name: str
    clock: Clock
    data_date: int
    """No activity starts before this tick."""
    horizon: int
    """Calendars are known up to this tick; everything finishes by it."""
    calendars: Mapping[str, Calendar]
    activities: tuple[Activity, ...]
    links: tuple[Link, ...] = ()
    dates: tuple[DateRule, ...] = ()
    resources: tuple[Resource, ...] = ()
    spaces: tuple[Space, ...] = ()
    openings: tuple[Opening, ...] = ()
    open_limits: tuple[OpenLimit, ...] = ()
    kept_shut: tuple[KeptShut, ...] = ()
    kept_behind: tuple[KeptBehind, ...] = ()
    ways: tuple[Way, ...] = ()
    rentals: tuple[PricedNights, ...] = ()
    """Machines paid for by the night from their delivery to their removal."""
    unpaved: tuple[Opening, ...] = ()
    """Stretches that lie filled without their pavement from the finish of `opens` to the finish of `closes`."""
    tickets: tuple[Ticket, ...] = ()
    visit_rules: tuple[VisitRule, ...] = ()
    holds: tuple[Hold, ...] = ()
    bookings: tuple[Booking, ...] = ()
    mobilisations: tuple[Mobilisation, ...] = ()
    target: Target | None = None
    rates: Rates = field(default_factory=Rates)
    lying: tuple[Lying, ...] = ()
    """What is to be seen of every line; it binds no date."""
    notes: tuple[Note, ...] = ()
    """What its rules cannot hold as it should be, to be told with every plan."""
    margin_percent: int = 0
    """Contingency that all work of the job's own people and machines has in its `work`, at the least [%]."""

    @cached_property
    def by_id(self) -> dict[str, Activity]:
        """Activities by id."""
        return {a.id: a for a in self.activities}

    @cached_property
    def resource_by_id(self) -> dict[str, Resource]:
        """Resources by id."""
        return {r.id: r for r in self.resources}

    def calendar_of(self, activity_id: str) -> Calendar:
        """Return the calendar an activity works by."""
        return self.calendars[self.by_id[activity_id].calendar]
