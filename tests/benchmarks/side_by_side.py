"""One small trench, three ways: time to proof of the best finish, side by side in one run.

    python -m tests.benchmarks.side_by_side [--reaches 2 3 4] [--repeats 3] [--limit 60] [--workers 2]

Every way gets the same invented network, cut off some days after a first plan's finish, and
the same number of workers. Prints medians, ratios, and what each way leaves out. The times
include building the model. A gain seen here comes from counting in working time, a first plan
and counted bounds, not from one library being faster than another: all three run CP-SAT.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from statistics import median

from pyjobshop import Model, SolveStatus
from pyjobshop.ProblemData import Machine, Renewable, Task

from scheduler.network.model import Network
from scheduler.solve.first_plan.generate import generate
from scheduler.solve.outcome import Options, Status
from scheduler.solve.run import solve
from tests.exact import exact
from tests.networks import trench_network

SPARE_DAYS = 7
TICKS_PER_DAY = 96


@dataclass(frozen=True)
class Run:
    """One way's answer: finish and bound [clock ticks], and seconds to the end of the search."""

    finish: float | None
    bound: float | None
    proved: bool
    seconds: float


@dataclass(frozen=True)
class Way:
    """A formulation, and what it cannot say."""

    name: str
    leaves_out: str
    run: Callable[[Network, float, int], Run]


def on_the_clock(network: Network, limit: float, workers: int) -> Run:
    """Plain intervals on the clock: every allowed (start, finish) in a table."""
    found = exact(network, seconds=limit, workers=workers)
    return Run(found.finish, found.bound, found.proved, found.seconds)


def through_pyjobshop(network: Network, limit: float, workers: int) -> Run:
    """The same network through PyJobShop, closed time as breaks of the parties."""
    began = time.perf_counter()
    model = Model()
    parties: dict[str, Machine | Renewable] = {}
    calendar_of = {r: a.calendar for a in network.activities for r, _ in a.needs}
    for r in network.resources:
        breaks = _closed(network, calendar_of[r.id])
        single = r.capacity == 1
        parties[r.id] = model.add_machine(breaks) if single else model.add_renewable(r.capacity, breaks)
    rooms = {s.reach: model.add_machine() for s in network.spaces}
    visitors = {c: model.add_renewable(len(network.activities), _closed(network, c)) for c in network.calendars}
    clear = {dig: t.clear for t in network.tickets for dig in t.digs}
    tasks: dict[str, Task] = {}
    for a in network.activities:
        tasks[a.id] = model.add_task(earliest_start=clear.get(a.id, 0), allow_breaks=not a.one_window, name=a.id)
        used = [parties[r] for r, _ in a.needs] or [visitors[a.calendar]]
        demands = [n if isinstance(p, Renewable) else 0 for p, (_, n) in zip(used, a.needs or (("", 1),), strict=True)]
        model.add_mode(tasks[a.id], [*used, rooms[a.reach]], a.work, [*demands, 0])
    for link in network.links:
        if not link.at_most:
            model.add_end_before_start(tasks[link.before], tasks[link.after], link.lag)
    for hold in network.holds:
        for gate in hold.gates:
            model.add_end_before_start(tasks[hold.look], tasks[gate])
    result = model.solve(time_limit=limit, display=False, num_workers=workers)
    proved = result.status == SolveStatus.OPTIMAL
    return Run(result.objective, result.lower_bound, proved, time.perf_counter() - began)


def through_this_solver(network: Network, limit: float, workers: int) -> Run:
    """The network as it is, through the solver of this project."""
    began = time.perf_counter()
    options = Options(workers=workers, only_finish=True, reproducible=False, finish_effort=limit, wall_seconds=limit)
    outcome = solve(network, options)
    finish = None if outcome.schedule is None else outcome.schedule.finish
    return Run(finish, outcome.finish_bound, outcome.status == Status.OPTIMAL, time.perf_counter() - began)


WAYS = (
    Way("clock axis, plain intervals", "nothing", on_the_clock),
    Way(
        "PyJobShop with breaks",
        "what one visit can see, how long a pass stays good, limits on open trench",
        through_pyjobshop,
    ),
    Way("this solver", "nothing", through_this_solver),
)


def small_network(reaches: int, seed: int) -> Network:
    """Return an invented trench, its calendars cut off some days after a first plan's finish."""
    network = trench_network(reaches, seed, open_reaches=max(2, reaches - 1))
    plan = generate(network, budget_seconds=0.1)
    assert plan is not None
    horizon = plan.finish + SPARE_DAYS * TICKS_PER_DAY
    calendars = {
        id_: replace(c, windows=tuple((a, min(b, horizon)) for a, b in c.windows if a < horizon))
        for id_, c in network.calendars.items()
    }
    return replace(network, horizon=horizon, calendars=calendars)


def _closed(network: Network, calendar: str) -> list[tuple[int, int]]:
    """Return the spans up to the horizon in which a calendar is closed."""
    edges = [0, *(t for window in network.calendars[calendar].windows for t in window), network.horizon]
    return [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if a < b]


def main() -> None:
    """Run every way on every size, and print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--reaches", type=int, nargs="+", default=[2, 3, 4])
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--limit", type=float, default=60.0, help="seconds for one search")
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args()
    print(f"{'reaches':>7} {'activities':>10}  {'way':<28} {'finish':>7} {'bound':>7} {'median s':>9} {'ratio':>8}")
    for reaches in args.reaches:
        network = small_network(reaches, seed=0)
        seconds: dict[str, float] = {}
        lines = []
        for way in WAYS:
            runs = [way.run(network, args.limit, args.workers) for _ in range(args.repeats)]
            seconds[way.name] = median(r.seconds for r in runs)
            lines.append((way.name, runs[0], all(r.proved for r in runs)))
        for name, run, proved in lines:
            ratio = seconds[name] / seconds["this solver"]
            print(
                f"{reaches:>7} {len(network.activities):>10}  {name:<28} {_tick(run.finish):>7} {_tick(run.bound):>7}"
                f" {seconds[name]:>9.2f} {'' if proved else '>'}{ratio:.1f}"
            )
    print("\nTicks are quarter hours from the first day; '>' marks a search stopped at its limit without proof.")
    for way in WAYS:
        print(f"{way.name}: leaves out {way.leaves_out}.")


def _tick(value: float | None) -> str:
    return "-" if value is None else f"{value:.0f}"


if __name__ == "__main__":
    main()
