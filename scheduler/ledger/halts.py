"""What stands against work in a stretch, whatever the work is: a stop, a trench found unsafe, a test that failed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from scheduler.ledger.day_events import LineStruck, TestFailed, TrenchInspected
from scheduler.ledger.evidence import Stop, speaks
from scheduler.ledger.ground_events import StopWorkLifted
from scheduler.ledger.known import KnownJob
from scheduler.ledger.rights import COMPETENT
from scheduler.ledger.seen import touches
from scheduler.ledger.timed import TimedEntry
from scheduler.units import TOUCH_FT

Stretch = tuple[str, float, float]
"""An alignment, from and to [ft]."""


def stops_in_force(known: KnownJob) -> Iterator[tuple[TimedEntry, Stop]]:
    """Give every order to stop, and every struck line, that holds at the moment, with its entry."""
    for noted in known.evidence.stops:
        stop = noted.entry.event
        assert isinstance(stop, Stop)
        if noted.felt(known.moment) <= known.moment and not _lifted(known, noted, stop):
            yield noted, stop


def stops(stop: Stop, stretch: Stretch | None) -> bool:
    """Tell whether a stop is of a stretch; None: of everywhere."""
    if stop.alignment is None or stretch is None:
        return stop.alignment is None
    alignment, lo, hi = stretch
    return stop.alignment == alignment and stop.from_ft < hi and (stop.to_ft is None or stop.to_ft > lo)


def _lifted(known: KnownJob, noted: TimedEntry, stop: Stop) -> bool:
    """Tell whether a stop was lifted by somebody who may."""
    for lifting in known.evidence.lifts.get(noted.number, ()):
        lift = lifting.entry.event
        assert isinstance(lift, StopWorkLifted)
        in_time = noted.when <= lifting.when <= known.moment and not lifting.ahead
        if may_lift(stop, lift.who, lift.firm) and in_time and lifting.contested_by is None:
            return True
    return False


def may_lift(stop: Stop, who: str, firm: str) -> bool:
    """Tell whether somebody may lift a stop: who gave it, somebody of the same firm, or the owner of a struck line."""
    owner = stop.owner if isinstance(stop, LineStruck) else ""
    return who == stop.who or (firm != "" and firm in (stop.firm, owner))


def unsafe_trench(known: KnownJob, stretch: Stretch) -> Iterator[TimedEntry]:
    """Give inspections that found the trench unsafe somewhere in a stretch, where none found it safe later."""
    seen = [n for n in known.evidence.inspected(stretch[0])]
    good = [
        (_inspected(n), n)
        for n in seen
        if _inspected(n).safe and _inspected(n).role == COMPETENT and speaks(n, known.moment) and n.contested_by is None
    ]
    for noted in seen:
        found, since = _inspected(noted), noted.felt(known.moment)
        if found.safe or since > known.moment or not touches(found, *stretch):
            continue
        lo, hi = max(found.from_ft, stretch[1]), min(found.to_ft, stretch[2])
        if not all_of(lo, hi, ((e.from_ft, e.to_ft) for e, n in good if _later(n, noted, since))):
            yield noted


def _inspected(noted: TimedEntry) -> TrenchInspected:
    event = noted.entry.event
    assert isinstance(event, TrenchInspected)
    return event


def failed_tests(known: KnownJob, stretch: Stretch | None = None) -> Iterator[TimedEntry]:
    """Give tests that failed and are not reported finished since, of what lies in a stretch; None: anywhere."""
    for noted in known.evidence.failed_tests:
        since = noted.felt(known.moment)
        if since > known.moment:
            continue
        again = [
            n
            for n in known.evidence.passed_again(noted)
            if _later(n, noted, since) and speaks(n, known.moment) and n.contested_by is None
        ]
        if _still_failed(known, noted, again, stretch):
            yield noted


def _still_failed(known: KnownJob, noted: TimedEntry, again: list[TimedEntry], stretch: Stretch | None) -> bool:
    event = noted.entry.event
    assert isinstance(event, TestFailed)
    work = event.work
    if work is None or not (work.alignment or work.lines):
        return not again
    if not work.alignment:  # of whole lines: it counts wherever they lie
        parts = [p for line in work.lines for p in known.looking.designs.of(line)]
        return not again and (stretch is None or any(touches(p, *stretch) for p in parts))
    lo, hi = work.from_ft, work.to_ft
    if stretch is not None:
        if not touches(work, *stretch):
            return False
        lo, hi = max(lo, stretch[1]), min(hi, stretch[2])
    places = [w for n in again if (w := getattr(n.entry.event, "work", None)) is not None]
    return not all_of(lo, hi, ((w.from_ft, w.to_ft) for w in places))


def _later(noted: TimedEntry, than: TimedEntry, since: datetime) -> bool:
    return (noted.when, noted.number) > (since, than.number)


def all_of(lo: float, hi: float, parts: Iterable[tuple[float, float]]) -> bool:
    """Tell whether parts cover all of a stretch [ft]."""
    reached = lo
    for a, b in sorted(parts):
        if a <= reached + TOUCH_FT:
            reached = max(reached, b)
    return reached >= hi - TOUCH_FT
