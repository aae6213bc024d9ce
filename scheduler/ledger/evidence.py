"""Everything on record that speaks for or against covering, found by the place it is about."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import datetime

from scheduler.ledger.call_events import Called
from scheduler.ledger.day_events import LineStruck, NotDone, TestFailed, TrenchInspected
from scheduler.ledger.event_fields import Seen, WorkPlace
from scheduler.ledger.events import (
    Delayed,
    Finished,
    HoldReleased,
    InspectionFailed,
    InspectionPassed,
    InspectionPassedWithConditions,
    PassStands,
    RemainingReported,
    Started,
    VisitBooked,
    VisitCancelled,
)
from scheduler.ledger.ground_events import (
    CoverReported,
    Rained,
    RepairReported,
    StopWork,
    StopWorkLifted,
    UncoverReported,
    WaterStood,
)
from scheduler.ledger.seen import LinePart, touches
from scheduler.ledger.timed import TimedEntry
from scheduler.network.model import Activity

Look = InspectionPassed | InspectionPassedWithConditions | InspectionFailed
Work = Started | Finished | RemainingReported | TestFailed | NotDone
Stop = StopWork | LineStruck
OnGround = UncoverReported | RepairReported | WaterStood | CoverReported


REPAIR = "repair/"
"""Begins the id of the work that a plan adds to mend what failed; the id of the look follows, and a number."""


class Evidence:
    """The entries that count, by what they are about. What is older than `seen` is found by its ids."""

    def __init__(self, counting: Iterable[TimedEntry]) -> None:
        self._seen: dict[tuple[type, str, str, str], list[tuple[Seen, TimedEntry]]] = defaultdict(list)
        self._seen_at: dict[tuple[type, str, str, str, float], list[tuple[Seen, TimedEntry]]] = {}
        self._by_id: dict[tuple[type, str], list[TimedEntry]] = defaultdict(list)
        self._work: dict[tuple[str, str], list[TimedEntry]] = defaultdict(list)
        self._ground: dict[tuple[type, str], list[TimedEntry]] = defaultdict(list)
        self.repairs: list[TimedEntry] = []
        """Reports on the work that a plan adds to mend what failed."""
        self._trench: dict[str, list[TimedEntry]] = defaultdict(list)
        self.failed_tests: list[TimedEntry] = []
        self._ends: dict[str, list[tuple[float, float]]] = defaultdict(list)
        self.rain: list[TimedEntry] = []
        self.stops: list[TimedEntry] = []
        self.lifts: dict[int, list[TimedEntry]] = defaultdict(list)
        self.words: list[TimedEntry] = []
        """Word that somebody comes later, or was called, in order."""
        self.bookings: dict[str, TimedEntry] = {}
        """Appointments that were not called off, by visit."""
        for noted in counting:
            self._add(noted)

    def _add(self, noted: TimedEntry) -> None:
        event = noted.entry.event
        match event:
            case InspectionPassed() | InspectionPassedWithConditions() | InspectionFailed() | PassStands():
                kind = PassStands if isinstance(event, PassStands) else InspectionPassed
                self._add_seen(kind, noted, event.seen, event.looks)
            case HoldReleased():
                self._add_seen(HoldReleased, noted, event.seen, (event.hold,))
            case Started() | Finished() | RemainingReported() | TestFailed() | NotDone():
                self._add_work(noted, event)
            case TrenchInspected():
                self._trench[event.alignment].append(noted)
            case UncoverReported() | RepairReported() | WaterStood() | CoverReported():
                self._ground[type(event), event.alignment].append(noted)
            case Rained():
                self.rain.append(noted)
            case StopWork() | LineStruck():
                self.stops.append(noted)
            case StopWorkLifted():
                self.lifts[event.stop].append(noted)
            case Delayed() | Called():
                self.words.append(noted)
            case VisitBooked():
                self.bookings[event.visit] = noted
            case VisitCancelled():
                self.bookings.pop(event.visit, None)

    def _add_work(self, noted: TimedEntry, event: Work) -> None:
        if isinstance(event, TestFailed):
            self.failed_tests.append(noted)
        if event.activity.startswith(REPAIR):
            if not isinstance(event, TestFailed | NotDone):
                self.repairs.append(noted)
        elif event.work is None or not event.work.alignment:
            self._work[event.activity, ""].append(noted)
        else:
            self._work[event.work.what, event.work.alignment].append(noted)

    def _add_seen(self, kind: type, noted: TimedEntry, seen: tuple[Seen, ...], ids: Iterable[str]) -> None:
        for one in seen:
            self._ends[one.alignment].append((one.from_ft, one.to_ft))
            self._seen[kind, one.inspection, one.alignment, one.line].append((one, noted))
        if not seen:
            for id_ in ids:
                self._by_id[kind, id_].append(noted)

    def seen_at(self, kind: type, inspection: str, part: LinePart) -> list[tuple[Seen, TimedEntry]]:
        """Return looks (InspectionPassed: every result), releases or words that a pass stands, over all of a part."""
        about, at_ft = (kind, inspection, part.alignment, part.line), part.at_ft
        key = (*about, at_ft)
        if key not in self._seen_at:
            found = self._seen.get(about, ())
            self._seen_at[key] = [(s, n) for s, n in found if s.from_ft <= at_ft <= s.to_ft]
        return self._seen_at[key]

    def stretches(self, inspection: str, part: LinePart) -> Iterator[tuple[float, float]]:
        """Give where looks, releases and words about a part begin and end."""
        for kind in (InspectionPassed, HoldReleased, PassStands):
            for seen, _ in self._seen.get((kind, inspection, part.alignment, part.line), ()):
                yield seen.from_ft, seen.to_ft
        for noted in self.bookings.values():
            booked = noted.entry.event
            if isinstance(booked, VisitBooked):
                yield from ((s.from_ft, s.to_ft) for s in booked.seen if s.alignment == part.alignment)

    def inspected(self, alignment: str) -> list[TimedEntry]:
        """Return the competent person's inspections of the open trench along an alignment."""
        return self._trench.get(alignment, [])

    def passed_again(self, failed: TimedEntry) -> list[TimedEntry]:
        """Return what reports the test of a failure finished, whenever: the same id, or the same work by its place."""
        event = failed.entry.event
        assert isinstance(event, TestFailed)
        work = event.work
        key = (event.activity, "") if work is None or not work.alignment else (work.what, work.alignment)
        found = [n for n in self._work.get(key, ()) if isinstance(n.entry.event, Finished)]
        if work is None:
            return found
        return [n for n in found if isinstance(e := n.entry.event, Finished) and _same_work(work, e.work)]

    def seen_ends(self, alignment: str) -> list[tuple[float, float]]:
        """Return where looks at anything along an alignment begin and end."""
        return self._ends.get(alignment, [])

    def without_place(self, kind: type, id_: str) -> list[TimedEntry]:
        """Return entries that are older than `seen`, by the look or hold they name."""
        return self._by_id.get((kind, id_), [])

    def on_ground(self, kind: type, alignment: str) -> list[TimedEntry]:
        """Return what was reported of stretches of an alignment: one kind of event."""
        return self._ground.get((kind, alignment), [])

    def ground_stretches(self, alignment: str) -> Iterator[tuple[float, float]]:
        """Give where everything that was reported of stretches of an alignment begins and ends."""
        for kind in (UncoverReported, RepairReported, WaterStood, CoverReported):
            for noted in self._ground.get((kind, alignment), ()):
                event = ground_event(noted)
                yield event.from_ft, event.to_ft

    def failed_stretches(self, alignment: str) -> Iterator[tuple[float, float]]:
        """Give where each test that failed along an alignment begins and ends."""
        for noted in self.failed_tests:
            event = noted.entry.event
            if isinstance(event, TestFailed) and event.work is not None and event.work.alignment == alignment:
                yield event.work.from_ft, event.work.to_ft

    def mends(self, look: str, part: LinePart) -> Iterator[TimedEntry]:
        """Give reports on the mending of what a look turned down, by the place that was mended."""
        for noted in self.repairs:
            event = noted.entry.event
            assert isinstance(event, Started | Finished | RemainingReported)
            if event.work is not None and event.work.alignment:
                if touches(event.work, part.alignment, part.from_ft, part.to_ft):
                    yield noted
            elif event.activity.startswith(f"{REPAIR}{look.removeprefix('look/')}/"):
                yield noted

    def work_on(self, activity: Activity) -> Iterator[tuple[float, float, TimedEntry]]:
        """Give every report on an activity with the stretch that it is about, by what was done there, not by its id.

        A report without a place is about the whole of what bears the id.
        """
        for noted in self._work.get((activity.id, ""), ()):
            yield activity.from_ft, activity.to_ft, noted
        if not activity.alignment:
            return
        what = activity.id.rpartition("/")[2]
        for noted in self._work.get((what, activity.alignment), ()):
            event = noted.entry.event
            assert isinstance(event, Work)
            if event.work is None or event.work.kind != activity.kind.value:
                continue
            if set(event.work.lines) & set(activity.lines) or not (event.work.lines or activity.lines):
                yield event.work.from_ft, event.work.to_ft, noted


def _same_work(one: WorkPlace, other: WorkPlace | None) -> bool:
    return other is not None and one.kind == other.kind and set(one.lines) <= set(other.lines)


def ground_event(noted: TimedEntry) -> OnGround:
    """Return the event of an entry about a stretch of ground."""
    event = noted.entry.event
    assert isinstance(event, UncoverReported | RepairReported | WaterStood | CoverReported)
    return event


def begun_again(noted: TimedEntry) -> bool:
    """Tell whether a report says that work is still going on, or is to be done again as its test failed."""
    event = noted.entry.event
    return isinstance(event, Started | TestFailed) or (isinstance(event, RemainingReported) and event.hours > 0)


def by(moment: datetime, notes: Iterable[TimedEntry]) -> list[TimedEntry]:
    """Return what stands against covering of some entries at a moment; what is dated ahead counts from its writing."""
    return [n for n in notes if n.felt(moment) <= moment]


def speaks(noted: TimedEntry, moment: datetime) -> bool:
    """Tell whether an approval can count at a moment: it had happened by then, and was not dated ahead."""
    return noted.when <= moment and not noted.ahead
