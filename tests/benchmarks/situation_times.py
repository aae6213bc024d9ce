"""How long it takes to tell how a site stands, and whether its plan still holds, on a journal of many entries.

    python -m tests.benchmarks.situation_times [ENTRIES] [RUNS]

For the bundled sites and one generated site of 60 reaches a journal is written in which the job goes by its plan
until so many entries stand, then a piece of work is late. Given are medians of processor time [s]: the whole
situation, whether the plan still holds with it, as `jointtrench today` and every page need it.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from statistics import median

import scheduler
from scheduler import BadInput, Case, Options, Planned, bundled_sites
from scheduler.ledger.events import Event
from scheduler.ledger.store import Entry
from tests.benchmarks.site_generator import make_site
from tests.happenings import as_planned
from tests.records import Record

REACHES = 60
QUICK = Options(only_finish=True, start_effort=0.3, finish_effort=0.5)


def sites() -> Iterator[tuple[str, Case]]:
    """Yield the sites by name."""
    for name, path in bundled_sites().items():
        yield name, scheduler.load(path)
    yield f"{REACHES} reaches", scheduler.load(make_site(REACHES, 1, "labour"))


def record_of(case: Case, planned: Planned, count: int) -> tuple[list[Entry], datetime]:
    """Return so many entries of a job that goes by its plan, the last piece forgotten, and a moment after them."""
    assert planned.plan.finish is not None
    said: list[tuple[datetime, Event]] = as_planned(case, planned.plan, planned.plan.finish)
    said = said[: min(count, len(said)) + 1]
    record = Record(case.site, case.network)
    for at, happened in said[:-1]:
        # The generated site names no inspectors, so nobody may pass its looks.
        with suppress(BadInput):
            record.write(happened, at)
    return record.entries, said[-1][0]


def main(entries: int, runs: int) -> None:
    """Measure every site and print a line for each."""
    print(f"{'site':<16}{'work':>6}{'entries':>9}{'breaches':>10}{'seconds':>9}")
    for name, case in sites():
        planned = scheduler.plan(case, QUICK)
        record, at = record_of(case, planned, entries)
        seconds, breaches = [], 0
        for _ in range(runs):
            begun = time.process_time()
            breaches = len(scheduler.today(case, record, at, planned).breaches)
            seconds.append(time.process_time() - begun)
        work = len(case.network.activities)
        print(f"{name:<16}{work:>6}{len(record):>9}{breaches:>10}{median(seconds):>9.3f}", flush=True)


if __name__ == "__main__":
    numbers = [int(a) for a in sys.argv[1:]]
    main(*(numbers + [500, 5][len(numbers) :]))
