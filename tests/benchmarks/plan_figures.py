"""Each bundled site's plans in figures, side by side: the one made aim after aim, then each plan to choose from.

    python -m tests.benchmarks.plan_figures [SITE ...] [--keep-looking MINUTES]

The first row is the plan whose aims come in order: finish, open trench, money, steady work, early starts. A piece is a
stretch of one activity without a break in its hours; closing hours cut longer work into some such. An inspector waits
between two looks of one visit. Also tells the seconds
of processor and of the clock.
"""

from __future__ import annotations

import argparse
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from itertools import pairwise

import scheduler
from scheduler import Options, Planned, bundled_sites
from scheduler.choosing import measures
from scheduler.measures import worked
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.spoken import moment, working
from scheduler.steadiness import cut_pieces

SHORT_MINUTES = 30
HEAD = (
    "plan",
    "finished by",
    "money",
    "ft nights",
    "visits",
    "trips",
    "moves",
    "pieces <= 30 min",
    "cut by closing",
    "longest wait",
    "margin",
    "bears",
)


def short_pieces(network: Network, schedule: Schedule) -> int:
    """Return how many pieces of own work take no more than `SHORT_MINUTES`."""
    most = SHORT_MINUTES // network.clock.tick_minutes
    return sum(
        finish - start <= most
        for a in network.activities
        if a.trade and a.work
        for start, finish in worked(network, a.id, schedule.dates[a.id])
    )


def longest_wait(network: Network, schedule: Schedule) -> int:
    """Return the longest that one person stands between two looks of a day [minutes]."""
    person = {group.record: group.person or group.record for group in lower(network).look_groups}
    days: dict[tuple[str, object], list[tuple[int, int]]] = {}
    for visit in schedule.visits:
        key = person.get(visit.rule, visit.rule), network.clock.when(visit.start).date()
        days.setdefault(key, []).extend(schedule.dates[look] for look in visit.looks)
    return max((_longest_gap(sorted(looks)) for looks in days.values()), default=0) * network.clock.tick_minutes


def _longest_gap(looks: Sequence[tuple[int, int]]) -> int:
    seen, gap = looks[0][1], 0
    for _, (start, finish) in pairwise(looks):
        gap, seen = max(gap, start - seen), max(seen, finish)
    return gap


def row(name: str, planned: Planned) -> tuple[str, ...]:
    """Return one plan's figures."""
    network, schedule, margin = planned.case.network, planned.schedule, planned.plan.margin
    assert schedule is not None
    m = measures(planned)
    cut = sum(cut_pieces(network, a, schedule.dates[a.id]) for a in network.activities)
    counts = (str(n) for n in (m.visits, m.trips, m.moves, short_pieces(network, schedule), cut))
    wait, bears = working(longest_wait(network, schedule)), margin.borne_percent if margin else 0
    ends = moment(network.clock.when(m.finish))
    return name, ends, f"${m.money:,.0f}", f"{m.ft_nights:,.0f}", *counts, wait, f"{m.margin} %", f"{bears} %"


def rows(name: str, more_minutes: float = 0.0) -> Iterator[tuple[str, ...]]:
    """Yield the figures of one site's plans, its headings first, then what it took."""
    began, cpu = time.perf_counter(), time.process_time()
    case = scheduler.load(bundled_sites()[name])
    first = scheduler.plan(case, Options())
    yield (name, *HEAD[1:])
    yield row("aim after aim", first)
    spent = time.perf_counter() - began, time.process_time() - cpu
    search = scheduler.ChoiceSearch(case, Options(), first=first)
    *_, found = search.looks()
    for choice in found:
        yield row(", ".join(choice.aims), choice.planned)
    yield f"{spent[0]:.0f} s, then {time.perf_counter() - began - spent[0]:.0f} s", *_seconds(cpu, spent[1])
    if more_minutes:
        stop = threading.Event()
        timer = threading.Timer(60 * more_minutes, stop.set)
        timer.start()
        *_, found = [found, *search.keep_looking(stop)]
        timer.cancel()
        for choice in found:
            yield row(f"{more_minutes:g} minutes more: {', '.join(choice.aims)}", choice.planned)
    yield (scheduler.open_trench_known(found),)


def _seconds(cpu: float, first: float) -> tuple[str, ...]:
    return (f"of processor {first:.0f} s, then {time.process_time() - cpu - first:.0f} s",)


def main(argv: Sequence[str] | None = None) -> int:
    """Print the table of each site, in Markdown."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("sites", nargs="*", choices=[*bundled_sites(), []], help="all when left out")
    parser.add_argument("--keep-looking", type=float, default=0.0, metavar="MINUTES")
    arguments = parser.parse_args(argv)
    for name in arguments.sites or bundled_sites():
        for number, cells in enumerate(rows(name, arguments.keep_looking)):
            print(f"| {' | '.join(cells)} |" if len(cells) == len(HEAD) else "\n" + ": ".join(cells), flush=True)
            if number == 0:
                print("|" + " --- |" * len(HEAD), flush=True)
        print(flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
