"""The whole site file as one record."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Self

from pydantic import Field, PrivateAttr

from scheduler.site.fields import Day, Id, Money, NonNegative, Positive, Record, Text
from scheduler.site.filling import Backfill
from scheduler.site.ground import Alignment, ExistingLine, KeepOpen, Line, Reach, Structure
from scheduler.site.job_id import JobId
from scheduler.site.learning import Learning
from scheduler.site.margin_wanted import Margin
from scheduler.site.own_work import OwnWork
from scheduler.site.people import (
    BookingSpec,
    CalendarSpec,
    Equipment,
    Inspection,
    Limits,
    LocalRule,
    LocateTicket,
    OutsideWork,
    Permit,
    Person,
    Trade,
)
from scheduler.site.seasons import Season
from scheduler.site.site_work import SiteWork
from scheduler.site.surroundings import Surrounding
from scheduler.site.work_rates import WorkRates
from scheduler.units import Units


class JobSpec(Record):
    """The job as a whole."""

    name: Text
    units: Units = "feet"
    """In which stations and amounts are told, on screen, on paper and in files. feet: feet and inches, stations of
    100 ft such as 1+60. metres: metres and millimetres, stations of 1000 m such as 0+048.8; every amount of the file is
    then written with its unit, in whatever unit it was given: `length: 30 m`, `cover: 900 mm`, `size: 2 in`."""
    job_id: JobId | None = None
    """Unlike any other; the job's record is found by it, so never change it. Empty: no record is kept yet."""
    time_zone: str = "America/Denver"
    """As the time zone database names it."""
    first_day: Day
    """The first day of the job, and the data date until a journal says otherwise."""
    target_finish: Day | None = None
    """Everything must be finished by the end of this day; None: no limit. With `damages_per_day` it may be later."""
    horizon_days: Annotated[int, Field(ge=7, le=2000)] = 240
    """How far ahead calendars are laid out."""
    country: str = "US"
    """For public holidays, in two letters."""
    state: str | None = None
    """For public holidays, as the `holidays` package names it."""
    frost_depth_in: NonNegative | None = None
    """From the local table; there is no safe default."""
    overhead_per_day: Money | None = None
    """Money that every day until the finish costs; None: not given, and left out of every sum by name."""
    exposure_per_ft_night: Money | None = None
    """Money that each foot of trench left open over a night is taken to cost; None: not given, left out by name."""
    unpaved_per_ft_night: Money | None = None
    """Money that each foot of trench in asphalt or concrete is taken to cost for a night between its fill and its
    surface; None: not given, left out by name."""
    damages_per_day: Money | None = None
    """Money for each day that the finish lies after `target_finish`, which may then be missed at this price; None: it
    may not be missed."""
    general_trade: Id | None = None
    """The trade that digs, beds, shades and restores; None: the first own trade."""
    invented: bool = False
    """Set on demonstration data."""


class Site(Record):
    """Everything the user wrote about one site."""

    format: Annotated[int, Field(ge=1, le=1)] = 1
    """Of the file; there is only one so far."""
    site: JobSpec
    people: list[Person] = []
    calendars: Annotated[list[CalendarSpec], Field(min_length=1)]
    alignments: Annotated[list[Alignment], Field(min_length=1)]
    reaches: Annotated[list[Reach], Field(min_length=1)]
    existing: list[ExistingLine] = []
    surroundings: list[Surrounding] = []
    """Written empty: nothing stands near the trench. Left out: nobody has said."""
    lines: Annotated[list[Line], Field(min_length=1)]
    structures: list[Structure] = []
    keep_open: list[KeepOpen] = []
    trades: Annotated[list[Trade], Field(min_length=1)]
    equipment: list[Equipment] = []
    locate_tickets: list[LocateTicket] = []
    permits: list[Permit] = []
    inspections: list[Inspection] = []
    outside_work: list[OutsideWork] = []
    own_work: list[OwnWork] = []
    seasons: list[Season] = []
    site_work: SiteWork | None = None
    bookings: list[BookingSpec] = []
    limits: Limits = Limits()
    margin: Margin = Margin()
    learning: Learning = Learning()
    backfill: Backfill = Backfill()
    rates: WorkRates = WorkRates()
    rules: list[LocalRule] = []
    rule_sheets: list[str] = []
    """File names of local rule sheets, beside the site file or bundled."""
    durations: dict[str, Positive] = {}
    """Hours by activity id, in place of what quantities give."""

    _folder: Path | None = PrivateAttr(default=None)

    @property
    def general_trade(self) -> Trade:
        """The trade that digs, beds, shades and restores, and in whose hours the site makes its calls.

        The one that `site.general_trade` names, else the first own trade. A site with neither is refused by
        `scheduler.site.record_faults`; until then its first trade stands in.
        """
        named = [t for t in self.trades if t.id == self.site.general_trade]
        return [*named, *(t for t in self.trades if t.own), *self.trades][0]

    @property
    def folder(self) -> Path | None:
        """Where the file it was read from lies; its own rule sheets are looked for there."""
        return self._folder

    def lying_in(self, folder: Path) -> Self:
        """Return the same site, read from a file in `folder`."""
        site = self.model_copy()
        site._folder = folder
        return site

    def __eq__(self, other: object) -> bool:
        """Compare what the user wrote, wherever it was read from."""
        return isinstance(other, Site) and self.__dict__ == other.__dict__
