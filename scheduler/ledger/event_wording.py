"""What stands in the journal, as a sentence people on site would say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from scheduler.ledger.call_events import AskedInWriting, Called
from scheduler.ledger.day_events import LineStruck, NotDone, NoteKept, TestFailed, TrenchInspected
from scheduler.ledger.events import (
    Corrected,
    Delayed,
    Event,
    Finished,
    HoldReleased,
    Inspected,
    InspectionFailed,
    InspectionPassed,
    InspectionPassedWithConditions,
    PassStands,
    PlanAccepted,
    Refused,
    RemainingReported,
    Started,
    TicketAnswered,
    VisitBooked,
    VisitCancelled,
    VisitConfirmed,
)
from scheduler.ledger.ground_events import (
    CoverReported,
    Measured,
    Rained,
    RepairReported,
    StopWork,
    StopWorkLifted,
    UncoverReported,
    WaterStood,
)
from scheduler.ledger.moments import said
from scheduler.ledger.trade_events import TakenOver
from scheduler.network.model import Network
from scheduler.site.site_record import Site
from scheduler.spoken import count, working_hours
from scheduler.units import format_inches, format_station

ANSWERS = {"clear": "clear of their lines", "marked": "lines marked", "not_complete": "not complete yet"}
"""What an owner may answer to a locate ticket."""
MEANS = {"phone": "by phone", "text": "by text", "mail": "by mail", "in_person": "in person", "letter": "by letter"}
"""How somebody may be told when to come."""


class Wording:
    """Says entries with the names of one site in place of ids.

    `more` names what only a plan knows: repairs, and looks after rain.
    """

    def __init__(self, site: Site, network: Network, more: Mapping[str, str] | None = None) -> None:
        self._clock = network.clock
        self._tickets = {t.id for t in site.locate_tickets}
        parts = (site.people, site.lines, site.alignments, site.trades, site.inspections, site.outside_work)
        self._names: Mapping[str, str] = {
            **(more or {}),
            **{p.id: p.name for group in parts for p in group},
            **{t.id: t.number or t.id for t in site.locate_tickets},
            **{h.id: h.name for h in network.holds},
            **{a.id: a.name for a in network.activities},
        }

    def name(self, id_: str) -> str:
        """Return the name behind an id; the id itself when it is nobody's."""
        return self._names.get(id_, id_)

    def sentence(self, happened: Event) -> str:
        """Return one event in plain words, times local to the site, marked where it was kept despite the record."""
        said, despite = self._sentence(happened), getattr(happened, "despite", "")
        if not despite:
            return said
        mark = f" [Kept although it contradicts the record: {getattr(happened, 'contradicts', '')}".rstrip(": ")
        return f"{said}{mark} Because: {despite}]"

    def _sentence(self, happened: Event) -> str:
        name, when = self.name, self._when
        match happened:
            case Started():
                return f"Started {when(happened.when)}: {name(happened.activity)}."
            case Finished():
                return f"Finished {when(happened.when)}: {name(happened.activity)}."
            case RemainingReported():
                return f"{working_hours(happened.hours)} left at {when(happened.when)}: {name(happened.activity)}."
            case TestFailed() | NotDone() | TrenchInspected() | LineStruck() | NoteKept():
                return self._day(happened)
            case Delayed():
                about = f": {self._listed(happened.about)}" if happened.about else " for anything of theirs"
                why = f" {happened.why}" if happened.why else ""
                return f"{name(happened.who)} cannot come before {when(happened.not_before)}{about}.{why}"
            case TakenOver():
                return self._taken_over(happened)
            case InspectionPassed() | InspectionPassedWithConditions() | InspectionFailed():
                return self._look(happened)
            case PassStands():
                seen, who = self._listed(happened.looks), name(happened.inspector)
                return f"The pass still stands, {when(happened.when)}, {who}: {seen}. {happened.words}"
            case HoldReleased():
                paper = " A photo or paper is kept with it." if happened.attachment else ""
                who, hold = name(happened.person), name(happened.hold)
                return f"Released by {who} {when(happened.when)}: {hold}. Seen: {happened.evidence}{paper}"
            case VisitBooked() | VisitConfirmed() | VisitCancelled():
                return self._visit(happened)
            case Called() | AskedInWriting():
                return self._call(happened)
            case CoverReported() | UncoverReported() | RepairReported() | WaterStood():
                return self._ground(happened)
            case StopWork() | StopWorkLifted():
                return self._stop(happened)
            case _:
                return self._other(happened)

    def _taken_over(self, happened: TakenOver) -> str:
        notice = f", with {count(happened.notice_days, 'working day')} of notice" if happened.notice_days else ""
        why = f" {happened.why}" if happened.why else ""
        agreed = f"Agreed {self._when(happened.when)}"
        who = f"{happened.firm} does the open work of {self.name(happened.trade)} from {self._when(happened.since)}"
        return f"{agreed}: {who}{notice}.{why}"

    def _look(self, happened: Inspected) -> str:
        verdict, words = "Passed", ""
        match happened:
            case InspectionPassed():
                words = happened.notes
            case InspectionPassedWithConditions():
                verdict, words = "Passed on condition", happened.conditions
            case InspectionFailed():
                verdict, words = "Failed", happened.faults
                if happened.repair_hours:
                    words = f"{_stopped(words)} To fix: {working_hours(happened.repair_hours)}."
        seen = self._listed(happened.looks)
        tail = f" {words}" if words else ""
        return f"{verdict} {self._when(happened.when)}, {self.name(happened.inspector)}: {seen}.{tail}"

    def _day(self, happened: TestFailed | NotDone | TrenchInspected | LineStruck | NoteKept) -> str:
        name, when = self.name, self._when(happened.when)
        match happened:
            case TestFailed():
                words = happened.faults
                if happened.repair_hours:
                    words = f"{_stopped(words)} To fix: {working_hours(happened.repair_hours)}."
                return f"Test failed {when}: {name(happened.activity)}. {words}"
            case NotDone():
                return f"Not done by {when}: {name(happened.activity)}. Because: {happened.because}"
            case TrenchInspected():
                found = "safe" if happened.safe else "NOT safe"
                tail = f" {happened.words}" if happened.words else ""
                return f"Open trench inspected {when} by {name(happened.who)}, {self._place(happened)}: {found}.{tail}"
            case LineStruck():
                line = name(happened.line) if happened.line else "a line"
                owner = f" of {happened.owner}" if happened.owner else ""
                place = f"{name(happened.alignment)} {format_station(happened.station_ft)}"
                what, told = happened.what.rstrip(". "), happened.told.rstrip(". ")
                return f"Line struck {when}, {place}: {line}{owner}. {what}. Told: {told}. Work along it is stopped."
            case NoteKept():
                about = f" to entry {happened.entry}" if happened.entry else ""
                if happened.alignment is not None:
                    about += f", {self._place(happened)}"
                paper = " A photo or paper is kept with it." if happened.attachment else ""
                return f"Note{about}, {when}: {happened.words}{paper}".rstrip(": ")

    def _place(self, stretch: StopWork | TrenchInspected | NoteKept) -> str:
        end = "its end" if stretch.to_ft is None else format_station(stretch.to_ft)
        return f"{self.name(stretch.alignment or '')} {format_station(stretch.from_ft)} to {end}"

    def _visit(self, happened: VisitBooked | VisitConfirmed | VisitCancelled) -> str:
        match happened:
            case VisitBooked():
                sure = "firm" if happened.firm else "soft"
                what = f": {self._listed(happened.looks)}" if happened.looks else ""
                return f"Booked ({sure}) for {self._when(happened.start)}: {self.name(happened.of)}{what}."
            case VisitConfirmed():
                return f"Confirmed: the visit {happened.visit}."
            case VisitCancelled():
                return f"Called off: the visit {happened.visit}. {happened.why}".rstrip()

    def _call(self, happened: Called | AskedInWriting) -> str:
        if isinstance(happened, AskedInWriting):
            return self._asked(happened)
        when, start, was = self._when, happened.told_start, happened.was
        who = f", {self.name(happened.person)}" if happened.person else ""
        about = f": {self._listed(happened.activities)}"
        if happened.of in self._tickets:
            asked, about = "asked to renew it", ""
        elif start is not None:
            asked = f"asked for {when(start)}" + (f" instead of {when(was)}" if was else "")
        else:
            asked = "told that they are not needed any more" + (f" {when(was)}" if was else "")
        answer = {"agreed": "Agreed", "no_answer": "No answer", "refused": "Said no", "tentative": "Perhaps"}[
            happened.answer
        ]
        offers = f", offers {when(happened.offers)}" if happened.offers else ""
        called = "Answered" if happened.uid else "Called"
        called += f" {MEANS[happened.means]} {when(happened.when)}: {self.name(happened.of)}{who}, {asked}{about}."
        return f"{called} {answer}{offers}. {happened.words}".rstrip()

    def _asked(self, happened: AskedInWriting) -> str:
        how = f"Asked {MEANS[happened.means]}" + (" (handed over to be sent)" if not happened.sent else "")
        who = f", {self.name(happened.person)}" if happened.person else ""
        what = "told that they are not needed any more" if happened.called_off else "to come"
        again = f", change {happened.sequence}" if happened.sequence else ""
        about = self._listed(happened.activities)
        at = self._when(happened.told_start)
        return f"{how} {self._when(happened.when)}: {self.name(happened.of)}{who}, {what} {at}{again}: {about}."

    def _stop(self, happened: StopWork | StopWorkLifted) -> str:
        who = self.name(happened.who)
        if isinstance(happened, StopWorkLifted):
            return f"The stop of entry {happened.stop} was lifted {self._when(happened.when)} by {who}."
        where = "everywhere" if happened.alignment is None else self._place(happened)
        return f"Work stopped {self._when(happened.when)} by {who}, {where}: {happened.why}"

    def _ground(self, happened: CoverReported | UncoverReported | RepairReported | WaterStood) -> str:
        place = f"{self.name(happened.alignment)} {format_station(happened.from_ft)} to "
        place += format_station(happened.to_ft)
        if isinstance(happened, RepairReported):
            return f"Fixed {self._when(happened.when)}: {place}. {happened.what}"
        if isinstance(happened, WaterStood):
            return f"Water stood in the trench {self._when(happened.when)}: {place}."
        if isinstance(happened, CoverReported):
            how = "Covered with select fill" if happened.depth == "shading" else "Covered"
        else:
            down = "the lines" if happened.depth == "shading" else "the select fill"
            how = f"Dug open by hand down to {down}"
        layer = "" if happened.layer is None else f", layer {happened.layer + 1} and below"
        return f"{how} {self._when(happened.when)}: {place}{layer}."

    def _other(self, happened: Event) -> str:
        name, when = self.name, self._when
        match happened:
            case TicketAnswered():
                ticket, answer = name(happened.ticket), ANSWERS[happened.answer]
                return f"Locate ticket {ticket}: {name(happened.who)} answered, {answer}, {when(happened.when)}."
            case Rained():
                inches = "" if happened.inches is None else f", {format_inches(happened.inches)}"
                return f"Rain from {when(happened.start)} to {when(happened.until)}{inches}."
            case Measured():
                line = f" of {name(happened.line)}" if happened.line else ""
                place = f"{name(happened.alignment)} {format_station(happened.station_ft)}"
                side = "right" if happened.offset_in >= 0 else "left"
                off = f"{format_inches(abs(happened.offset_in))} {side} of the centreline"
                cover = f"{format_inches(happened.cover_in)} of cover"
                return f"As built{line} at {place}: {off}, {cover}; {name(happened.who)}, {when(happened.when)}."
            case PlanAccepted():
                return f"Plan accepted, as of {when(happened.data_date)}. {happened.why}".rstrip()
            case Corrected():
                return f"Entry {happened.supersedes} taken back. {happened.reason}"
            case Refused():
                asked = happened.asked.replace("_", " ")
                return f"Refused ({asked}: {name(happened.about)}). {happened.reason}"
        raise TypeError(f"no words for {type(happened).__name__}")

    def _when(self, when: datetime) -> str:
        return said(self._clock, when)

    def _listed(self, ids: Iterable[str]) -> str:
        return "; ".join(self.name(i) for i in ids)


def clock_ahead_words(numbers: Sequence[int]) -> str:
    """Say which entries were written under a clock that stood ahead of the ones after them, or of the clock here."""
    which = ", ".join(map(str, numbers[:8])) + (" …" if len(numbers) > 8 else "")
    return f"A clock was wrong: by it, entry {which} was written later than what came after. Set the clocks."


def _stopped(words: str) -> str:
    """Return what somebody typed with a full stop, where it ends with none, so that a sentence may follow."""
    return words if not words or words.endswith((".", "!", "?")) else f"{words}."
