"""The site as the user wrote it: one record for each part of a site file.

`scheduler.site.editor` has what a form needs to write one.
"""

from scheduler.site.fields import Day, Moment, Record
from scheduler.site.filling import Backfill
from scheduler.site.ground import Alignment, ExistingLine, KeepOpen, Line, LineKind, Reach, Structure
from scheduler.site.job_id import content_digest
from scheduler.site.people import (
    BookingSpec,
    CalendarSpec,
    Equipment,
    Inspection,
    Limits,
    LocalRule,
    LocateTicket,
    OutsideWork,
    Person,
    Trade,
)
from scheduler.site.site_record import JobSpec, Site
from scheduler.site.surroundings import Surrounding

__all__ = [
    "Alignment",
    "Backfill",
    "BookingSpec",
    "CalendarSpec",
    "Day",
    "Equipment",
    "ExistingLine",
    "Inspection",
    "JobSpec",
    "KeepOpen",
    "Limits",
    "Line",
    "LineKind",
    "LocalRule",
    "LocateTicket",
    "Moment",
    "OutsideWork",
    "Person",
    "Reach",
    "Record",
    "Site",
    "Structure",
    "Surrounding",
    "Trade",
    "content_digest",
]
