"""Work that comes before covering a stretch, or goes on in it, and is neither finished by the record nor seen done."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from scheduler.ledger.clearance import Clearance
from scheduler.ledger.covering import CoverGround, overlaps
from scheduler.ledger.events import Finished
from scheduler.ledger.evidence import begun_again, speaks
from scheduler.ledger.hold_standing import SEEN
from scheduler.ledger.mending import mended_since_test
from scheduler.ledger.seen import LinePart, cut
from scheduler.ledger.timed import TimedEntry
from scheduler.network.kind import Kind
from scheduler.network.lying import TRENCH
from scheduler.network.model import Activity, Hold


def unfinished(clearance: Clearance, ground: CoverGround) -> Iterator[tuple[Activity, datetime | None]]:
    """Give each such activity, with the moment since which it is under way; None where it is not on record as begun."""
    known = clearance.known
    network = known.network
    covering = {a.id for a in network.activities if not a.kind.needs_open_trench and ground.hidden_by(a)}
    needed = {b for c in covering for b in known.looking.directly_before(c)}
    seeing = _looks_by_work(clearance)
    for activity in network.activities:
        required = activity.id in needed and activity.kind.needs_open_trench
        here = overlaps(activity, ground.alignment, ground.from_ft, ground.to_ft)
        if not required and (not here or _covers(activity.kind)):
            continue
        worst: tuple[bool, datetime | None] | None = None
        for piece in _pieces(clearance, activity, ground if here else None):
            last = _last(clearance, activity, piece)
            under_way = last is not None and begun_again(last)
            if not under_way and (not required or _done(clearance, activity, last)):
                continue
            if _seen(clearance, seeing.get(activity.id, ()), activity, piece, last):
                continue
            since = last.felt(known.moment) if last is not None and under_way else None
            if worst is None or (since is not None and worst[1] is None):
                worst = (under_way, since)
        if worst is not None:
            yield activity, worst[1]


def tests_before_mending(clearance: Clearance, ground: CoverGround) -> Iterator[tuple[Activity, datetime]]:
    """Give each test of what lies in a stretch that was made before something was mended there, with when it was."""
    known = clearance.known
    stretch = (ground.alignment, ground.from_ft, ground.to_ft)
    for test in known.network.activities:
        if not (test.kind.is_test and test.kind.needs_open_trench):
            continue
        if test.alignment and not overlaps(test, *stretch):
            continue
        mended = mended_since_test(known, test, stretch)
        if mended is not None:
            yield test, mended


def _covers(kind: Kind) -> bool:
    """Tell whether work is part of covering itself, or comes after it."""
    return kind.covers or kind in (Kind.COMPACTION_TEST, Kind.MILESTONE)


def _looks_by_work(clearance: Clearance) -> dict[str, list[Hold]]:
    """Return the holds whose look shows that an activity is done, by activity."""
    out: dict[str, list[Hold]] = {}
    for hold in clearance.known.network.holds:
        if hold.look in clearance.known.looking.inspections:
            for id_ in clearance.known.looking.before(hold.look):
                out.setdefault(id_, []).append(hold)
    return out


def _pieces(clearance: Clearance, activity: Activity, ground: CoverGround | None) -> list[LinePart]:
    """Cut an activity, where it lies in a stretch, at the ends of every report on it and every look."""
    if ground is None or not activity.alignment:
        return [LinePart(activity.alignment, TRENCH, activity.from_ft, activity.to_ft)]
    lo, hi = max(activity.from_ft, ground.from_ft), min(activity.to_ft, ground.to_ft)
    evidence = clearance.known.evidence
    ends = [(a, b) for a, b, _ in evidence.work_on(activity)]
    ends += evidence.seen_ends(activity.alignment)
    ends += evidence.ground_stretches(activity.alignment)
    ends += [
        (p.from_ft, p.to_ft)
        for k in activity.lines
        for p in clearance.known.looking.designs.of(k)
        if p.alignment == activity.alignment
    ]
    return list(cut(LinePart(activity.alignment, TRENCH, lo, hi), sorted({end for pair in ends for end in pair})))


def _last(clearance: Clearance, activity: Activity, piece: LinePart) -> TimedEntry | None:
    """Return the last report on an activity that takes in a piece, by when it happened."""
    for _, lo, hi, noted in clearance.known.reports(activity):
        if not activity.alignment or lo <= piece.at_ft <= hi:
            return noted
    return None


def _done(clearance: Clearance, activity: Activity, last: TimedEntry | None) -> bool:
    """Tell whether the last report says that all of an activity is finished."""
    event = last.entry.event if last else None
    if last is None or not isinstance(event, Finished) or last.contested_by is not None:
        return False
    whole = event.work is None or set(activity.lines) <= set(event.work.lines)
    return whole and speaks(last, clearance.known.moment)


def _seen(
    clearance: Clearance,
    holds: tuple[Hold, ...] | list[Hold],
    activity: Activity,
    piece: LinePart,
    last: TimedEntry | None,
) -> bool:
    """Tell whether a look that still stands saw an activity done, and no report on it came after that look."""
    moment = clearance.known.moment
    for hold in holds:
        parts = clearance.pieces(hold)
        if activity.lines:
            parts = [p for p in parts if p.line in activity.lines]
        if activity.alignment:
            parts = [p for p in parts if p.alignment == activity.alignment and p.from_ft <= piece.at_ft <= p.to_ft]
        stands = [clearance.stand(hold, p) for p in parts]
        if stands and all(
            s.status in SEEN and s.look is not None and (last is None or last.felt(moment) <= s.look.when)
            for s in stands
        ):
            return True
    return False
