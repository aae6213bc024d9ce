"""How long the answer to 'may this be covered?' takes on a journal of many entries.

    python -m tests.benchmarks.answer_speed [ENTRIES]

For the small and the street site: the time to read the journal from its file, to fold it, and to answer for a stretch
(the slowest of several), for all hold points, and for what lies covered that was not released.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from random import Random

import scheduler
from scheduler import Case, bundled_sites
from scheduler.errors import BadInput
from scheduler.ledger.cover_answer import may_cover
from scheduler.ledger.covered_early import covered_unreleased
from scheduler.ledger.covering import CoverGround
from scheduler.ledger.events import Event, Finished, HoldReleased, InspectionFailed, InspectionPassed, Started
from scheduler.ledger.ground_events import CoverReported, Rained, UncoverReported
from scheduler.ledger.holds import hold_points
from scheduler.ledger.state import fold
from scheduler.ledger.store import Journal
from tests.records import Record


def long_record(case: Case, count: int) -> Record:
    """Return a journal in which work, looks and releases go on and on, dug open and looked at again."""
    rng, record = Random(7), Record(case.site, case.network)
    at = case.network.clock.when(case.network.data_date)
    work = [a.id for a in case.network.activities if a.work and not a.kind.is_look]
    holds = [h for h in case.network.holds if h.look in record.looking.inspections]
    while len(record.entries) < count:
        at += timedelta(minutes=3)
        draw, hold = rng.random(), rng.choice(holds)
        person = next((p for p in case.site.people if p.id == hold.released_by), case.site.people[0])
        alignment = rng.choice(case.site.alignments)
        lo = float(rng.randrange(0, int(alignment.length_ft * 0.9), 2))
        stretch = {"alignment": alignment.id, "from_ft": lo, "to_ft": min(lo + 30, alignment.length_ft), "when": at}
        happened: list[Event] = [
            Started(activity=rng.choice(work), when=at),
            Finished(activity=rng.choice(work), when=at),
        ]
        if draw < 0.4:
            happened = [InspectionPassed(looks=(hold.look,), inspector=person.id, when=at)]
            happened.append(HoldReleased(hold=hold.id, person=person.id, role=person.role, evidence="Seen.", when=at))
        elif draw < 0.45:
            happened = [InspectionFailed(looks=(hold.look,), inspector=person.id, faults="Wet.", when=at)]
        elif draw < 0.55:
            happened = [CoverReported(**stretch), UncoverReported(**stretch)]
        elif draw < 0.56:
            happened = [Rained(start=at - timedelta(hours=1), until=at, inches=0.2)]
        for event in happened:
            record.add(_with_seen(record, event), at)
    return record


def _with_seen(record: Record, event: Event) -> Event:
    """Fill in what was seen as writing does, without folding the whole journal for each release."""
    looking = record.looking
    if isinstance(event, InspectionPassed | InspectionFailed):
        seen = [s for look in event.looks for h in looking.holds_of[look] for s in looking.seen(h, "named")]
        return event.model_copy(update={"seen": tuple(seen)})
    if isinstance(event, HoldReleased):
        hold = next(h for h in record.network.holds if h.id == event.hold)
        return event.model_copy(update={"seen": looking.seen(hold, "named"), "rests_on": (len(record.entries),)})
    return event


def timed(what: Callable[[], object]) -> float:
    """Return how long something takes [s]."""
    begun = time.process_time()
    what()
    return time.process_time() - begun


def measure(name: str, count: int) -> None:
    """Print the times of one site."""
    case = scheduler.load(bundled_sites()[name])
    record = long_record(case, count)
    moment = record.entries[-1].at
    state = fold(record.entries, moment)
    folding = timed(lambda: fold(record.entries, moment).evidence)
    answers = []
    for reach in case.site.reaches:
        ground = CoverGround(reach.alignment, reach.from_, reach.to)

        def ask(ground: CoverGround = ground) -> None:
            try:
                may_cover(case.site, case.network, fold(record.entries, moment), ground, moment)
            except BadInput:
                return

        answers.append(timed(ask))
    points = timed(lambda: hold_points(case.site, case.network, state, moment))
    alarms = timed(lambda: covered_unreleased(case.site, case.network, state, moment))
    reading = _reading(record)
    print(
        f"{name}: {len(record.entries)} entries; read from its file {reading:.2f} s, fold {folding:.3f} s; "
        f"fold and answer {max(answers):.3f} s at most, {sum(answers) / len(answers):.3f} s on average of "
        f"{len(answers)} reaches; all hold points {points:.2f} s; covered too early {alarms:.2f} s"
    )


def _reading(record: Record) -> float:
    with tempfile.TemporaryDirectory() as folder:
        journal = Journal.open(Path(folder) / "site.journal.db")
        for entry in record.entries[:500]:
            journal.append(entry.event, at=entry.at, by=entry.by)
        took = timed(journal.entries) * len(record.entries) / 500
        journal.close()
        return took


if __name__ == "__main__":
    for site in bundled_sites():
        measure(site, int((sys.argv[1:] or ["5000"])[0]))
