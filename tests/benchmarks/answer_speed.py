"""How long the answer to 'may this be covered?' takes on a journal of many entries, its reading included.

    python -m tests.benchmarks.answer_speed [ENTRIES] [RUNS]

For each bundled site a journal is written; then, RUNS times, fresh processes import the program, load the site and ask
for one reach, another each time. Given are medians of processor time [s]: reading the journal, folding it, the answer,
and the look for what lies covered too early; the whole command (its imports left out, the site loaded before); and what
a page does after one more entry: reading what was added, folding, and the answer.
"""

from __future__ import annotations

import gc
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing, redirect_stdout
from datetime import datetime, timedelta
from io import StringIO
from random import Random
from statistics import median
from typing import Any

import scheduler
from scheduler import Case, bundled_sites
from scheduler.cli.main import main as command
from scheduler.ledger import CoverGround, covered_unreleased, fold, may_cover, place_of
from scheduler.ledger.events import Event, Finished, HoldReleased, InspectionFailed, InspectionPassed, Started
from scheduler.ledger.ground_events import CoverReported, Rained, UncoverReported
from scheduler.site.site_record import Reach
from scheduler.units import format_station
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


def as_a_command(site: str, reach: int, moment: datetime) -> dict[str, float]:
    """Return how long the command line takes."""
    path = bundled_sites()[site]
    asked: Reach = scheduler.load(path).site.reaches[reach]
    words = ["holds", str(path), "--at", f"{asked.alignment}:{format_station(asked.from_)}"]
    words += ["--to", format_station(asked.to), "--when", moment.isoformat()]
    begun = time.process_time()
    with redirect_stdout(StringIO()):
        command(words)
    return {"command": time.process_time() - begun}


def in_parts(site: str, reach: int, moment: datetime) -> dict[str, float]:
    """Return how long each part takes of an answer, and what a page does after one more entry."""
    took: dict[str, float] = {}

    def timed(name: str, what: Callable[[], Any]) -> Any:
        begun = time.process_time()
        said = what()
        took[name] = time.process_time() - begun
        return said

    case = timed("load", lambda: scheduler.load(bundled_sites()[site]))
    asked: Reach = case.site.reaches[reach]
    ground = CoverGround(asked.alignment, asked.from_, asked.to)
    gc.freeze()  # as the command line does
    with closing(place_of(case.site, case.path).open()) as journal:
        entries = timed("read", journal.entries)
        state = timed("fold", lambda: fold(entries, moment))
        timed("alarms", lambda: covered_unreleased(case.site, case.network, state, moment))
        timed("answer", lambda: may_cover(case.site, case.network, state, ground, moment))
        gc.unfreeze()
        added = timed("read what was added", lambda: journal.entries(held=entries[:-1]))
    again = timed("fold again", lambda: fold(added, moment))
    timed("answer again", lambda: may_cover(case.site, case.network, again, ground, moment))
    return took


def measure(site: str, count: int, runs: int) -> None:
    """Print the medians for one site."""
    case = scheduler.load(bundled_sites()[site])
    record = long_record(case, count)
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {"JOINTTRENCH_JOURNAL": folder, "JOINTTRENCH_HOME": folder}
        with closing(place_of(case.site, case.path).open()) as journal:
            for entry in record.entries:
                journal.append(entry.event, at=entry.at, by=entry.by)
        rows = []
        for n in range(runs):
            one = [site, str(n % len(case.site.reaches)), record.entries[-1].at.isoformat()]
            rows.append({name: took for way in ("--parts", "--command") for name, took in _fresh(way, *one).items()})
    took = {name: median(r[name] for r in rows) for name in rows[0]}
    alone = median(r["read"] + r["fold"] + r["answer"] for r in rows)
    page = median(r["read what was added"] + r["fold again"] + r["answer again"] for r in rows)
    print(
        f"{site}: {len(record.entries)} entries, {runs} fresh processes: read {took['read']:.3f} s, fold "
        f"{took['fold']:.3f} s, answer {took['answer']:.3f} s; the three {alone:.3f} s. Covered too early "
        f"{took['alarms']:.3f} s. The command with all of it {took['command']:.3f} s. A page, after one more entry: "
        f"{page:.3f} s. (To load the site: {took['load']:.3f} s.)"
    )


def _fresh(*words: str) -> dict[str, float]:
    begin = [sys.executable, "-m", "tests.benchmarks.answer_speed", *words]
    said = subprocess.run(begin, capture_output=True, text=True, check=True)
    return dict(json.loads(said.stdout))


def main(words: list[str]) -> None:
    """Measure, or be one of the fresh processes."""
    ways = {"--parts": in_parts, "--command": as_a_command}
    if words and words[0] in ways:
        print(json.dumps(ways[words[0]](words[1], int(words[2]), datetime.fromisoformat(words[3]))))
        return
    for name in bundled_sites():
        measure(name, int(words[0]) if words else 5000, int(words[1]) if len(words) > 1 else 15)


if __name__ == "__main__":
    main(sys.argv[1:])
