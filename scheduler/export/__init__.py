"""What leaves the tool for people without it: printed look-aheads and hold tags, calendars, tables."""

from scheduler.export.audiences import EVERYBODY, Audience, everybody_named, find_party, parties
from scheduler.export.bundle import PaperOrder, bundle, usual_paper
from scheduler.export.calendar_files import calendar, read_calendar, unreadable
from scheduler.export.days import day_sheets
from scheduler.export.from_journal import recorded
from scheduler.export.lookahead import WEEKS, Period, look_ahead
from scheduler.export.mail.free_hours import Clash, FreeHours, free_hours
from scheduler.export.mail.invitation_mail import invitation_mail, organiser, subject
from scheduler.export.mail.invitations import Invitation, ToAsk, to_ask
from scheduler.export.mail.mail_answers import LARGEST_MAIL, MailAnswer, read_answer
from scheduler.export.mail.mail_sending import sending
from scheduler.export.mail.mail_settings import EXAMPLE as MAIL_EXAMPLE
from scheduler.export.mail.mail_settings import MailSettings, read_mail_settings
from scheduler.export.mail.mailbox import mailbox
from scheduler.export.mail.short_texts import mail_draft, short_text, text_draft, text_length
from scheduler.export.names import file_name
from scheduler.export.page import PAPER
from scheduler.export.page_addresses import LONGEST, checked_base
from scheduler.export.paper_facts import PaperFacts
from scheduler.export.rentals import Rental, rentals, signs
from scheduler.export.tables import activities_csv, holds_csv, visits_csv
from scheduler.export.tags import hold_tags, standing

__all__ = [
    "EVERYBODY",
    "LARGEST_MAIL",
    "LONGEST",
    "MAIL_EXAMPLE",
    "PAPER",
    "WEEKS",
    "Audience",
    "Clash",
    "FreeHours",
    "Invitation",
    "MailAnswer",
    "MailSettings",
    "PaperFacts",
    "PaperOrder",
    "Period",
    "Rental",
    "ToAsk",
    "activities_csv",
    "bundle",
    "calendar",
    "checked_base",
    "day_sheets",
    "everybody_named",
    "file_name",
    "find_party",
    "free_hours",
    "hold_tags",
    "holds_csv",
    "invitation_mail",
    "look_ahead",
    "mail_draft",
    "mailbox",
    "organiser",
    "parties",
    "read_answer",
    "read_calendar",
    "read_mail_settings",
    "recorded",
    "rentals",
    "sending",
    "short_text",
    "signs",
    "standing",
    "subject",
    "text_draft",
    "text_length",
    "to_ask",
    "unreadable",
    "usual_paper",
    "visits_csv",
]
