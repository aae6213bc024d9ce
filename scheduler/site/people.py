"""Who works when, with what, and what others do: calendars, trades, inspections, bookings."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from scheduler.site.crew_members import CrewMember, LayRate, WorkNeeds
from scheduler.site.fields import (
    Day,
    Hours,
    Id,
    Mail,
    Moment,
    Money,
    NonNegative,
    Number,
    Positive,
    Record,
    Share,
    Text,
    Weekly,
)
from scheduler.site.ground import LineKind, Stretch
from scheduler.units import split_amount

Days = Annotated[int, Field(ge=0, le=365)]


class OpenDay(Record):
    """Extra hours on one date."""

    date: Day
    hours: Hours
    """Worked on that date beside the weekly ones."""


class CalendarSpec(Record):
    """Named working hours: a weekly pattern, less holidays and closed days, plus extra days."""

    id: Id
    name: Text
    weekly: list[Weekly] = []
    """Such as `mon-fri 07:00-15:30`; may be empty when only `open` days count."""
    holidays: bool = True
    """Closed on public holidays of the site's country and state."""
    closed: list[Day] = []
    """Dates without work."""
    open: list[OpenDay] = []
    """Extra hours on single dates."""


class Person(Record):
    """Somebody named in the job: contact, and what they may release."""

    id: Id
    name: Text
    role: Literal[
        "general_contractor", "project_manager", "competent_person", "trade", "inspector", "utility", "customer"
    ]
    """What they may release goes by it."""
    of: Text = ""
    """Their firm or authority."""
    phone: str = ""
    mail: Mail = ""
    """Their mail address: where they are asked in writing, and from where their answer counts."""
    deputy_of: Id | None = None
    """In whose place they may release; somebody of the same role."""
    from_: Day | None = Field(default=None, alias="from")
    """First day in this role; None: since before the job."""
    until: Day | None = None
    """Last day in this role; what was released until then stays released. None: no end."""


class Trade(Record):
    """A trade on site: own people or a subcontractor."""

    id: Id
    name: Text
    own: bool = False
    """The contractor's own people."""
    crews: Annotated[int, Field(ge=1, le=20)] = 1
    """At work at once, each in another stretch."""
    calendar: Id
    """When it works."""
    day_rate: Money | None = None
    """Of one crew, for each day on which the trade works here, every crew counted; a day is paid whole. None: not
    given, and left out of every sum by name."""
    standing_rate: Money | None = None
    """Of one crew, for each working day on site without work (`stay_days`); None: not given, left out by name."""
    setup_cost: Money | None = None
    """Of setting up in a stretch, once for each stretch and day; None: not given, left out by name."""
    mobilisation_cost: Money | None = None
    """Of coming to the site once; None: not given, left out by name."""
    least_per_coming: Money | None = None
    """The least that one coming is charged, the minimum call-out: what the day rates of its days at work fall short of
    it is added. None: not given, left out by name; own people have none then."""
    stay_days: Days = 3
    """A longer gap between its days on site costs a new mobilisation."""
    notice_days: Days = 0
    """Working days of its calendar from the call to its first day."""
    contact: Id | None = None
    """The person to call before it comes; None: the first person of a firm by the trade's own name."""
    lays: list[LayRate] = []
    """How fast one crew lays each kind of line; a common rate for kinds not given."""
    members: list[CrewMember] = []
    """The people of one crew by skill, who may work apart: an operator who digs leaves the pipe layers free. Empty: a
    crew works as a whole."""
    work_needs: list[WorkNeeds] = []
    """Whom of them each kind of work takes; a kind that is not named takes the whole crew."""


class Equipment(Record):
    """A machine on site; the excavator's bucket and cycle give the digging rate."""

    id: Id
    name: Text
    kind: Literal["excavator", "compactor", "vacuum", "saw", "lift"]
    """The excavator digs and fills, a compactor compacts, a vacuum exposes marked lines, a saw cuts pavement, a
    lift sets what is heavy."""
    count: Annotated[int, Field(ge=1, le=10)] = 1
    """Machines of this kind, all alike."""
    calendar: Id
    """When it is on site."""
    trade: Id | None = None
    """Whose crew runs it; None: comes with its own operator."""
    bucket_cy: Positive = 0.25
    """Heaped bucket [cu yd]."""
    bucket_width_in: Positive = 24.0
    cycle_s: Positive = 24.0
    """From one bucket to the next."""
    boom_up_ft: Positive = 20.0
    """How high its boom goes above grade, for wires overhead."""
    fill_factor: Positive = 0.9
    """Share of the heaped bucket that is full."""
    efficiency: Annotated[float, Field(gt=0, le=1)] = 0.75
    """Share of an hour that it digs."""
    day_rate: Money | None = None
    """Of one machine, for each day at work, every machine of the kind counted; an excavator that `site_work` brings
    costs it each night until it is taken away. None: not given, and left out of every sum by name."""
    standing_rate: Money | None = None
    """Of one machine, for each working day on site without work (`stay_days`); None: not given, left out by name."""
    setup_cost: Money | None = None
    """Of bringing it to a stretch, once for each stretch and day it works in; None: not given, left out by name."""
    stay_days: Days = 3
    """With a longer gap between its days at work it is not on site meanwhile."""


class Inspection(Record):
    """An authority's look at part of the work, at one stage, as visits in its windows."""

    id: Id
    name: Text
    authority: Text
    """Who looks; a person may release for it who is of this name."""
    stage: Literal["open_trench", "lines_laid", "shaded", "pressure_test", "compaction", "final"]
    """Of the work, when it is looked at."""
    kinds: list[LineKind] = []
    """Line kinds it covers; empty with no `lines` given: everything."""
    lines: list[Id] = []
    """Or the lines by id."""
    alignments: list[Id] = []
    """Only along these; empty: everywhere its lines run."""
    calendar: Id
    """The authority's visiting windows."""
    notice_days: Days = 1
    """Working days of its calendar from the call to the visit."""
    half_days: bool = False
    """Its office takes half-days: it is asked for a morning or an afternoon, and comes at any time of that."""
    look_minutes: Annotated[int, Field(ge=15, le=480)] = 30
    """At one reach."""
    looks_per_visit: Annotated[int, Field(ge=1)] | None = None
    """The most in one visit; None: as many as fit in its window."""
    feet_per_visit: Positive | None = None
    """The most trench in one visit; None: as much as fits in its window."""
    fee: Money | None = None
    """Of one visit: all that one person looks at on one day, whatever inspections it is of, the highest of their fees
    once. None: not given, and left out of every sum by name."""
    ready_hours: NonNegative = 0.0
    """Elapsed hours by which the work is done before it is looked at; 0: a look may begin the minute the work ends."""
    wait_cost_per_hour: Money | None = None
    """Of an inspector who waits on site between two looks; None: not given, and left out of every sum by name."""
    longest_wait_hours: Positive | None = None
    """A plan tells on which days an inspector waits on site for longer than this between the looks of one window of
    its hours, looks not counted; the price of waiting keeps them together. None: no wait is told."""
    reinspection_fee: Money | None = None
    """Of one more look after a failure; None: not given, left out by name."""
    pass_chance: Share = 0.9
    """The share of looks that pass the first time, told beside planned visits."""
    pass_valid_days: Positive | None = None
    """Elapsed days in which what it releases must follow: cover, or the first lines of a trench; None: no expiry."""
    pass_stands_while_kept_open: bool = True
    """Whether a pass stands, however long, for a stretch kept open for others; a plan then tells where it is older than
    `pass_valid_days`. False: cover must follow in time there too."""
    rain_allowed_in: NonNegative = 0.0
    """Inches of rain after a look that its pass bears; any more, and the authority is asked whether it still stands.
    0: asked after any rain. Rain of unknown depth is more than any."""
    hold: Literal["hold", "witness"] = "hold"
    """Hold: work waits for the release. Witness: they are called, and work goes on if they do not come."""
    released_by: Id | None = None
    """The person who releases it, who must be of the authority; None: any of the authority's own people."""
    criteria: str = ""
    """What is looked for, as printed on the tag."""


class OutsideWork(Record):
    """One step that others do: set a pole, pull service wire, set a meter, energise, cut over."""

    id: Id
    name: Text
    by: Text
    """Who does it."""
    kind: Literal[
        "set_pole",
        "pull_service",
        "tie_in",
        "set_meter",
        "energise",
        "cutover",
        "remove",
        "terminate",
        "activate",
        "other",
    ]
    """What is done."""
    calendar: Id
    """When they work."""
    offered: list[Moment] = []
    """Starts that were offered; empty: any time in its calendar."""
    notice_days: Days = 0
    """Working days of its calendar from the call to its start."""
    hours: Positive = 2.0
    """That it takes."""
    one_window: bool = True
    """It is done in one window of its calendar, without a break."""
    after: list[Id] = []
    """Other outside work that must be done first."""
    lines: list[Id] = []
    """Lines it works on."""
    lines_state: Literal["none", "laid", "inspected", "covered"] = "inspected"
    """How far those lines must be, except in stretches kept open for this very work."""
    needs_inspections: list[Id] = []
    """Inspections that must have passed first."""
    at: Stretch | None = None
    """Where it occupies the trench; None: what is kept open for it, else people stand at the ends of its `lines`."""
    not_at_trench: Text | None = None
    """Where it is done instead, such as in the house: then it takes no room in or beside the trench."""
    trade: Id | None = None
    """When a trade on site does it."""
    outage: bool = False
    """Power or service is off while it is done: needs an agreed outage window."""
    cost: Money | None = None
    """Of all of it, paid once; None: not given, left out by name."""


class BookingSpec(Record):
    """An appointment already made with an authority, a trade or a utility."""

    id: Id
    of: Id
    """An inspection, or outside work."""
    reaches: list[Id] = []
    """For an inspection: the reaches to be seen then; empty: all that it covers."""
    start: Moment
    firm: bool = False
    """It cannot be moved; otherwise it may be, at its cost."""
    move_cost: Money | None = None
    """Of moving it; None: not given, left out by name."""


class LocateTicket(Record):
    """A call-before-you-dig ticket."""

    id: Id
    number: str = ""
    called: Moment
    """When the call was made."""
    clear: Moment | None = None
    """When all owners have answered; None: `notice_days` after the call."""
    notice_days: Days = 2
    """Full working days after the day of the call (Monday to Friday, no holidays)."""
    life_days: Annotated[int, Field(ge=1, le=365)] = 28
    """Calendar days from the call for which it is good."""
    renew_before_days: Days = 2
    """Working days before expiry by which a renewal must be called."""
    renewals: Annotated[int, Field(ge=0, le=24)] = 6
    """How often it can be renewed."""
    renewal_cost: Money | None = None
    """Of one renewal; None: not given, left out by name."""
    alignments: list[Id] = []
    """Empty: all. Where several tickets cover the same ground, digging keeps to every one of them."""


class Permit(Record):
    """What must be granted or agreed before anybody digs: a permit, a route, a utility's own look at the ground."""

    id: Id
    kind: Literal["permit", "route_agreement", "utility_inspection", "meeting", "traffic_plan", "notice"]
    """What it is."""
    by: Text
    """Who grants it."""
    number: str = ""
    """Under which it is kept."""
    alignments: list[Id] = []
    """Along which it lets people dig; empty: all."""
    step: Id | None = None
    """The step of `own_work` by which digging waits for it: a gate before the dig. None: it is granted already."""


class Limits(Record):
    """How much may stand open, and how people and machines keep apart."""

    open_trench_ft: Positive | None = None
    """The most trench open at any moment; None: no limit."""
    reaches_open: Annotated[int, Field(ge=1)] | None = None
    """The most reaches open at any moment; None: no limit."""
    longest_open_nights: Annotated[int, Field(ge=1)] = 14
    """A plan tells what stands open for more nights than this, and why."""
    closed_days_open: Positive = 7.0
    """The longest time without work, in days on end, over which trench may stand open. What cannot be filled before
    a longer one, such as a season in which nobody may dig, is not dug until after it."""
    least_start_minutes: Annotated[int, Field(ge=0, le=240)] = 0
    """Work that goes on later is not begun with less than this left before its hours close; 0: it may be."""
    swing_ft: NonNegative = 20.0
    """Nobody works within this distance of the machine digging or filling."""
    lay_behind_ft: Positive | None = None
    """Of bedding and laying behind the dig in a reach, and each other, at least `swing_ft`; None: they wait for it."""
    rain_days: list[Day] = []
    """Days without work in the trench."""


class LocalRule(Record):
    """A local value that overrides a built-in layout rule."""

    rule: Id
    """Its name in the register, as `jointtrench rules` lists them."""
    value: Number
    """In the rule's unit, or with its own such as `900 mm`; 1 for yes and 0 for no."""
    unit: Text | None = None
    """Of the value; None: the rule's, unless one stands with the value."""
    source: Text
    """Where it is written down, or who said so."""
    where: list[Id] = []
    """Reaches; empty: everywhere."""

    @model_validator(mode="before")
    @classmethod
    def _unit_with_value(cls, data: Any) -> Any:
        """Part `900 mm` into the number and its unit; whatever is no such amount is left to be refused."""
        if not isinstance(data, dict) or not isinstance(data.get("value"), str) or data.get("unit") is not None:
            return data
        try:
            number, unit = split_amount(data["value"])
        except ValueError:
            return data
        return {**data, "value": number, "unit": unit} if unit else data
