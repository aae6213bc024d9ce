"""What leaves the tool for people without it: printed look-aheads and hold tags, calendars, tables."""

from scheduler.export.audiences import EVERYBODY, Audience, everybody_named, find_party, parties
from scheduler.export.bundle import PaperOrder, bundle, usual_paper
from scheduler.export.calendar_files import calendar, read_calendar, unreadable
from scheduler.export.days import day_sheets
from scheduler.export.from_journal import recorded
from scheduler.export.lookahead import WEEKS, Period, look_ahead
from scheduler.export.names import file_name
from scheduler.export.page import PAPER
from scheduler.export.page_addresses import LONGEST, checked_base
from scheduler.export.paper_facts import PaperFacts
from scheduler.export.rentals import Rental, rentals, signs
from scheduler.export.tables import activities_csv, holds_csv, visits_csv
from scheduler.export.tags import hold_tags, standing

__all__ = [
    "EVERYBODY",
    "LONGEST",
    "PAPER",
    "WEEKS",
    "Audience",
    "PaperFacts",
    "PaperOrder",
    "Period",
    "Rental",
    "activities_csv",
    "bundle",
    "calendar",
    "checked_base",
    "day_sheets",
    "everybody_named",
    "file_name",
    "find_party",
    "hold_tags",
    "holds_csv",
    "look_ahead",
    "parties",
    "read_calendar",
    "recorded",
    "rentals",
    "signs",
    "standing",
    "unreadable",
    "usual_paper",
    "visits_csv",
]
