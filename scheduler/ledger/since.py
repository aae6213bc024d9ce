"""What happened since a look: what undoes it, and what makes it doubtful."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

from scheduler.ledger.covering import covered
from scheduler.ledger.day_events import TestFailed
from scheduler.ledger.events import Finished, InspectionFailed
from scheduler.ledger.evidence import begun_again, by, speaks
from scheduler.ledger.ground_events import CoverReported, Rained, RepairReported, UncoverReported, WaterStood
from scheduler.ledger.hold_standing import HeldPlace, Sight
from scheduler.ledger.known import KnownJob, Report
from scheduler.ledger.moments import elapsed, said
from scheduler.ledger.seen import LinePart, touches
from scheduler.ledger.timed import TimedEntry
from scheduler.network.model import Hold, Network
from scheduler.spoken import working_hours
from scheduler.units import format_inches


def undone(known: KnownJob, hold: Hold, part: LinePart, since: datetime) -> tuple[datetime, str] | None:
    """Return the last thing that happened to the work at or after a look of it, with its words; None for nothing."""
    inspection, clock = known.inspection(hold), known.network.clock
    stage = inspection.stage if inspection is not None else ""
    found = [r for r in (_opened(known, part, since, stage), _worked_on(known, hold, part, since)) if r is not None]
    mended = _first(known.on_ground(RepairReported, part.alignment), part, since)
    if mended is not None:
        found.append((mended.at, f"fixed {said(clock, mended.at)}"))
    for noted in known.evidence.mends(hold.look, part):
        at = noted.felt(known.moment)
        if since < at <= known.moment:
            found.append((at, f"fixed {said(clock, at)}"))
    # A look at what lies over the lines tells nothing of their tests.
    if inspection is not None and stage not in ("shaded", "compaction"):
        found += _tests_failed(known, hold, part, since)
    return max(found, default=None)


def _tests_failed(known: KnownJob, hold: Hold, part: LinePart, since: datetime) -> Iterator[tuple[datetime, str]]:
    """Give the tests of a part's lines that failed after a look: what was seen is mended, tested and seen again."""
    lines = {part.line} if part.line else set(hold.lines)
    for noted in known.evidence.failed_tests:
        event, at = noted.entry.event, noted.felt(known.moment)
        assert isinstance(event, TestFailed)
        test = known.network.by_id.get(event.activity)
        what = event.work if event.work is not None and event.work.lines else test
        if what is None or not since < at <= known.moment or not lines & set(what.lines):
            continue
        if not what.alignment or touches(what, part.alignment, part.from_ft, part.to_ft):
            yield at, f"{test.name if test else event.activity} failed {said(known.network.clock, at)}"


def _first(reports: Iterable[Report], part: LinePart, since: datetime) -> Report | None:
    """Return the latest report at or after a moment that takes in some of a part."""
    for report in reports:
        if report.at < since:
            return None
        if report.from_ft < part.to_ft and report.to_ft > part.from_ft:
            return report
    return None


def _opened(known: KnownJob, part: LinePart, since: datetime, stage: str) -> tuple[datetime, str] | None:
    """Return when a place was last dug open, as far as that undoes a look, or shaded once more after the look at it."""
    found, clock = [], known.network.clock
    deep = (
        r
        for r in known.on_ground(UncoverReported, part.alignment)
        if stage in ("shaded", "compaction") or _depth(r) == "shading"
    )
    if (opened := _first(deep, part, since)) is not None:
        found.append((opened.at, f"dug open again {said(clock, opened.at)}"))
    if stage == "shaded":
        again = (r for r in known.on_ground(CoverReported, part.alignment) if _depth(r) == "shading" and r.at > since)
        if (shaded := _first(again, part, since)) is not None:
            found.append((shaded.at, f"shaded again {said(clock, shaded.at)}"))
    return max(found, default=None)


def _depth(report: Report) -> str:
    event = report.entry.entry.event
    return event.depth if isinstance(event, UncoverReported | CoverReported) else ""


def _worked_on(known: KnownJob, hold: Hold, part: LinePart, since: datetime) -> tuple[datetime, str] | None:
    """Return the last report, dated after a look, of work that the look came after."""
    found: tuple[datetime, str] | None = None
    for activity in known.looking.work_of(hold):
        if activity.alignment not in ("", part.alignment):
            continue
        for at, lo, hi, noted in known.reports(activity):
            if at <= since or (found is not None and at <= found[0]):
                break
            here = not activity.alignment or (lo < part.to_ft and hi > part.from_ft)
            if here and (begun_again(noted) or isinstance(noted.entry.event, Finished)):
                how = "begun again" if begun_again(noted) else "finished"
                how = "failed" if isinstance(noted.entry.event, TestFailed) else how
                found = at, f"{activity.name} {how} {said(known.network.clock, at)}"
                break
    return found


def hasty(known: KnownJob, place: HeldPlace, sight: Sight, failures: list[TimedEntry]) -> str:
    """Return what is odd about a pass that came sooner after a failure than the repair takes, with none reported."""
    before = [n for n in failures if n.felt(known.moment) < sight.when]
    last = max(before, key=lambda n: n.felt(known.moment), default=None)
    event = last.entry.event if last else None
    if last is None or not isinstance(event, InspectionFailed):
        return ""
    failed = last.felt(known.moment)
    if sight.when >= elapsed(failed, timedelta(hours=event.repair_hours)):
        return ""
    mends = [
        *known.evidence.on_ground(RepairReported, place.part.alignment),
        *known.evidence.mends(place.hold.look, place.part),
    ]
    for noted in mends:
        here = not isinstance(noted.entry.event, RepairReported) or _where_it_failed(event, noted.entry.event, place)
        mended = speaks(noted, sight.when) and noted.when >= failed and not begun_again(noted)
        if here and mended:
            return ""
    return (
        f"it failed {said(known.network.clock, failed)} with {working_hours(event.repair_hours)} to fix, passed "
        f"{said(known.network.clock, sight.when)}, and no repair is on record"
    )


def wet(known: KnownJob, place: HeldPlace, since: datetime) -> str:
    """Return what water came after a moment, and before the place was covered, beyond what the pass bears."""
    over = [covered(known.evidence, g, place.part, known.moment).done for g in place.gates]
    ends = [d for d in over if d is not None]
    end = max(ends) if ends and len(ends) == len(over) else known.moment
    for noted in by(end, known.evidence.on_ground(WaterStood, place.part.alignment)):
        if noted.felt(end) >= since and _over(noted.entry.event, place.part):
            return f"water stood there {said(known.network.clock, noted.felt(end))}"
    inches, last = 0.0, None
    for noted in by(end, known.evidence.rain):
        rain = noted.entry.event
        assert isinstance(rain, Rained)
        if rain.until > since:
            inches += float("inf") if rain.inches is None else rain.inches
            last = max(last or rain.until, rain.until)
    if last is None or inches <= place.inspection.rain_allowed_in:
        return ""
    deep = "" if inches == float("inf") else f" ({format_inches(inches)})"
    return f"it rained{deep} until {said(known.network.clock, last)}, after the look"


def good_until(known: KnownJob, place: HeldPlace, passed_at: datetime) -> datetime | None:
    """Return when a pass lapses for a gate that had not begun by then; None when it does not."""
    ends = []
    for gate in place.gates:
        limit = known.looking.lasting.get((place.hold.look, gate.id))
        if limit is None:
            continue
        end = _later(known.network, passed_at, *limit)
        begun = covered(known.evidence, gate, place.part, known.moment).begun
        if begun is None or begun > end:
            ends.append(end)
    return min(ends, default=None)


def _where_it_failed(failure: InspectionFailed, mended: RepairReported, place: HeldPlace) -> bool:
    if not failure.seen:
        return _over(mended, place.part)
    return any(touches(mended, s.alignment, s.from_ft, s.to_ft) for s in failure.seen)


def _over(event: object, part: LinePart) -> bool:
    """Tell whether a report of ground takes in some of a part."""
    return touches(event, part.alignment, part.from_ft, part.to_ft)  # type: ignore[arg-type]


def _later(network: Network, when: datetime, lag: int, calendar: str | None) -> datetime:
    if calendar is None:
        return elapsed(when, timedelta(minutes=lag * network.clock.tick_minutes))
    tick = network.calendars[calendar].advance(network.clock.tick(when), lag)
    return network.clock.when(network.horizon if tick is None else tick)
