"""Everything for everybody at once: the files of one export, by name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from scheduler.export.audiences import EVERYBODY, Audience
from scheduler.export.calendar_files import calendar
from scheduler.export.lookahead import Period, look_ahead
from scheduler.export.names import file_name
from scheduler.export.paper_facts import PaperFacts
from scheduler.export.tables import activities_csv, holds_csv, materials_csv, visits_csv
from scheduler.export.tags import hold_tags, standing
from scheduler.spoken import Language

LETTER_COUNTRIES = ("BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE")
"""Countries whose usual paper is US Letter (Unicode CLDR, supplemental data, paperSize); elsewhere it is A4."""


@dataclass(frozen=True, slots=True)
class PaperOrder:
    """What is asked for."""

    stretch: Period
    paper: str
    made: datetime
    """When it is made, an aware time; it stands in the calendars."""
    base: str = ""
    """The address of the dashboard, for links and QR codes."""
    language: Language = "en"
    """Of the hold tags."""


def usual_paper(facts: PaperFacts) -> str:
    """Return the paper that is used where the site is."""
    return "letter" if facts.site.site.country in LETTER_COUNTRIES else "a4"


def bundle(
    facts: PaperFacts,
    chosen: Sequence[Audience],
    order: PaperOrder,
    *,
    earlier: Sequence[PaperFacts] = (),
    before: Callable[[str], str] = lambda _: "",
) -> dict[str, bytes]:
    """Return the files for some parties, by name: look-aheads, calendars, tables and hold tags.

    `earlier` are the plans published before, the oldest first. `before` gives the text of a calendar
    published earlier under a file name, or nothing. Raises BadInput when that cannot be read.
    """
    files: dict[str, bytes] = {}
    taken: set[str] = set()
    for party in chosen:
        paper_name = file_name("look-ahead", party.name, "pdf", taken)
        files[paper_name] = look_ahead(facts, party, order.stretch, order.paper)
        name = file_name("calendar", party.name, "ics", taken)
        files[name] = calendar(facts, party, made=order.made, earlier=earlier, before=before(name), base=order.base)
    whose = chosen[0] if len(chosen) == 1 else EVERYBODY
    whom = "" if whose == EVERYBODY else whose.name
    for what, table in (("work", activities_csv), ("visits", visits_csv), ("hold points", holds_csv)):
        # The mark at the front tells spreadsheets that it is UTF-8.
        files[file_name(f"table of {what}", whom, "csv", taken)] = table(facts, whose).encode("utf-8-sig")
    files[file_name("table of materials", "", "csv", taken)] = materials_csv(facts).encode("utf-8-sig")
    holds = standing(facts, order.stretch.first, order.stretch.last)
    files["hold tags.pdf"] = hold_tags(facts, holds, order.paper, order.base, order.language)
    return files
