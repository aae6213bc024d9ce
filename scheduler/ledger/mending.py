"""When what failed was mended, by the record, and which tests were made before that."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from scheduler.ledger.event_fields import WorkPlace
from scheduler.ledger.events import Finished
from scheduler.ledger.evidence import REPAIR
from scheduler.ledger.ground_events import RepairReported
from scheduler.ledger.known import KnownJob
from scheduler.ledger.seen import LinePart, cut, touches
from scheduler.ledger.state import State
from scheduler.ledger.timed import TimedEntry
from scheduler.network.lying import TRENCH
from scheduler.network.model import Activity, Link, LinkType, Network

Stretch = tuple[str, float, float]
"""An alignment, from and to [ft]."""


def mended_at(state: State, failed: Activity, since: datetime, by: datetime) -> datetime | None:
    """Return when a look or test that failed at a moment was mended, by another moment; None where no report says so.

    A report of mending counts by the work it is of, or by its place.
    """
    of = f"{REPAIR}{failed.id.removeprefix('look/')}/"
    found = [known.finish for id_, known in state.actuals.items() if id_.startswith(of) and known.finish is not None]
    for noted in state.counting:
        event = noted.entry.event
        if isinstance(event, RepairReported):
            here = not failed.alignment or touches(event, failed.alignment, failed.from_ft, failed.to_ft)
            found += [event.when] if here else []
    return max((t for t in found if since <= t <= by), default=None)


def mender(network: Network, look: str) -> Activity | None:
    """Return the work that was looked at or tested, whose trade mends it."""
    seen = [network.by_id[k.before] for k in network.links if k.after == look and not k.at_most]
    return next((a for a in seen if a.needs and a.trade), None)


def tests_again(network: Network, state: State, look: str, since: datetime) -> list[Link]:
    """Return the links from the tests that a failed look comes after and that were not made after a moment."""
    links = [k for k in network.links if k.after == look and k.type is LinkType.FS and not k.at_most]
    made = {k.before: state.actual(k.before).finish for k in links}
    return [k for k in links if network.by_id[k.before].kind.is_test and not ((at := made[k.before]) and at > since)]


def mended_since_test(known: KnownJob, test: Activity, stretch: Stretch | None = None) -> datetime | None:
    """Return when something was last mended that a test was made before: that test is to be made again.

    None where it was made, or is under way, after all mending on record of the same lines in the same ground. With a
    `stretch` (alignment, from and to [ft]) only what was mended in it counts.
    """
    mends = [m for m in _mends(known, test) if stretch is None or _share(m.place, stretch)]
    if not mends:
        return None
    if not test.alignment:
        reports = known.reports(test)
        last = reports[0].entry if reports else None
        return max((m.at for m in mends if _made_before(last, m)), default=None)
    lo, hi = test.from_ft, test.to_ft
    if stretch is not None:
        lo, hi = max(lo, stretch[1]), min(hi, stretch[2])
    ends = {end for r in known.reports(test) for end in (r.from_ft, r.to_ft)}
    ends |= {end for m in mends for end in m.place[1:]}
    found = []
    for piece in cut(LinePart(test.alignment, TRENCH, lo, hi), sorted(ends)):
        last = next((r.entry for r in known.reports(test) if r.from_ft <= piece.at_ft <= r.to_ft), None)
        there = (m for m in mends if m.place[1] < piece.at_ft < m.place[2])
        found += [m.at for m in there if _made_before(last, m)]
    return max(found, default=None)


@dataclass(frozen=True, slots=True)
class _Mend:
    """One report of mending, by a moment."""

    at: datetime
    number: int
    place: Stretch


def _made_before(last: TimedEntry | None, mend: _Mend) -> bool:
    """Tell whether a test whose last report this is was made before a mending; not where it is not reported made."""
    made = last is not None and isinstance(last.entry.event, Finished)
    return made and last is not None and (last.when, last.number) < (mend.at, mend.number)


def _mends(known: KnownJob, test: Activity) -> Iterator[_Mend]:
    """Give the mending on record, by the moment known, of ground in which the lines of a test lie."""
    grounds: list[Stretch] = [(test.alignment, test.from_ft, test.to_ft)]
    if not test.alignment:
        parts = (p for line in test.lines for p in known.looking.designs.of(line))
        grounds = [(p.alignment, p.from_ft, p.to_ft) for p in parts]
    for alignment in dict.fromkeys(g[0] for g in grounds):
        for report in known.on_ground(RepairReported, alignment):
            place = (alignment, report.from_ft, report.to_ft)
            if any(_share(place, g) for g in grounds):
                yield _Mend(report.at, report.entry.number, place)
    for noted in known.evidence.repairs:
        event, at = noted.entry.event, noted.felt(known.moment)
        if not isinstance(event, Finished) or at > known.moment:
            continue
        named = event.activity.removeprefix(REPAIR).rpartition("/")[0]
        of = known.network.by_id.get(f"look/{named}") or known.network.by_id.get(named)
        what: WorkPlace | Activity | None = event.work if event.work is not None and event.work.alignment else of
        if what is None or not set(what.lines) & set(test.lines):
            continue
        place = (what.alignment, what.from_ft, what.to_ft)
        if not what.alignment:
            yield from (_Mend(at, noted.number, g) for g in grounds)
        elif any(_share(place, g) for g in grounds):
            yield _Mend(at, noted.number, place)


def _share(one: Stretch, other: Stretch) -> bool:
    return one[0] == other[0] and one[1] < other[2] and other[1] < one[2]
