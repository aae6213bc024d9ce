"""Generated sites of growing size, each party made the bottleneck in turn: finish, bound, gap, time, memory.

    python -m tests.benchmarks.scaling [--reaches 60 200 500] [--seeds 5] [--first-seed 0]
                                       [--bottlenecks excavator labour ...]

Each run is a process of its own, one after another, so that memory is that run's alone. Only
the finish is asked for. The wanted times are of the solve on two idle cores, by the clock;
its processor seconds, and those of making the site and deriving its network, are reported
beside it. `lost` is the gap as a contractor meets it: the working hours of the busiest party
between the bound and the finish, as a share of the hours it has to work on the whole job.
Wanted of each size: a median of 0.5 %, nine in ten within 2 %.
"""

from __future__ import annotations

import argparse
import json
import math
import resource
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from statistics import median
from typing import get_args

from scheduler.audit import audit
from scheduler.network.derive import derive
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.solve.first_plan.calendar_fit import CalendarFit
from scheduler.solve.outcome import Options, Outcome
from scheduler.solve.run import solve
from tests.benchmarks.site_generator import Bottleneck, make_site

WANTED_SECONDS = {60: 5.0, 200: 20.0, 500: 60.0}
WANTED_LOST, WANTED_MEDIAN_LOST = 0.02, 0.005
WANTED_MEGABYTES = 1024.0


@dataclass(frozen=True)
class Row:
    """What one run gave: finish and bound in days from the data date."""

    reaches: int
    seed: int
    bottleneck: str
    activities: int
    status: str
    finish: float
    bound: float
    bound_kind: str
    lost: float
    derive_seconds: float
    seconds: float
    processor_seconds: float
    megabytes: float
    findings: int

    @property
    def good(self) -> bool:
        """Whether the run kept the wanted time, gap and memory."""
        in_time = self.seconds <= WANTED_SECONDS.get(self.reaches, float("inf"))
        return in_time and self.lost <= WANTED_LOST and self.megabytes < WANTED_MEGABYTES and not self.findings

    def __str__(self) -> str:
        return (
            f"{self.reaches:>7} {self.seed:>4} {self.bottleneck:<10} {self.activities:>10} {self.status:<9}"
            f" {self.finish:>8.2f} {self.bound:>8.2f} {self.lost:>7.2%} {self.derive_seconds:>7.1f}"
            f" {self.seconds:>7.1f} {self.processor_seconds:>6.1f} {self.megabytes:>6.0f}"
            f" {'yes' if self.good else 'NO':>4}  {self.bound_kind}"
        )


HEADER = (
    f"{'reaches':>7} {'seed':>4} {'bottleneck':<10} {'activities':>10} {'status':<9}"
    f" {'finish':>8} {'bound':>8} {'lost':>7} {'derive':>7} {'solve s':>7} {'cpu s':>6} {'MB':>6} {'good':>4}  bound by"
)


def lost_by_busiest(network: Network, outcome: Outcome) -> float:
    """Return the busiest party's working hours between bound and finish, as a share of all it has to work."""
    schedule, bound = outcome.schedule, outcome.finish_bound
    assert schedule is not None
    assert bound is not None
    hours = CalendarFit(network).hours
    work = {
        c.id: sum(network.by_id[use.first].work * use.units for use in c.uses) / c.units
        for c in lower(network).capacities
        if c.is_party
    }
    busiest = max(work, key=lambda c: work[c] / max(hours[c].open_ticks(0, schedule.finish), 1))
    return hours[busiest].open_ticks(bound, schedule.finish) / work[busiest]


def run_one(reaches: int, seed: int, bottleneck: Bottleneck, effort: float) -> Row:
    """Make, derive, solve and audit one site in this process."""
    began = time.process_time()
    network = derive(make_site(reaches, seed, bottleneck))
    derived, clock = time.process_time(), time.perf_counter()
    outcome = solve(network, Options(only_finish=True, finish_effort=effort))
    solved, seconds = time.process_time(), time.perf_counter() - clock
    assert outcome.schedule is not None, f"no plan: {outcome.status}"
    stage = outcome.stages[0]
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return Row(
        reaches=reaches,
        seed=seed,
        bottleneck=bottleneck,
        activities=len(network.activities),
        status=outcome.status.value,
        finish=stage.value,
        bound=stage.bound,
        bound_kind=stage.bound_kind,
        lost=lost_by_busiest(network, outcome),
        derive_seconds=derived - began,
        seconds=seconds,
        processor_seconds=solved - derived,
        megabytes=peak,
        findings=len(audit(network, outcome.schedule)),
    )


def run_apart(reaches: int, seed: int, bottleneck: str, effort: float) -> Row:
    """Run one site in a process of its own."""
    command = [
        sys.executable,
        "-m",
        "tests.benchmarks.scaling",
        "--one",
        "--reaches",
        str(reaches),
        "--seeds",
        str(seed),
    ]
    command += ["--bottlenecks", bottleneck, "--effort", str(effort)]
    out = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return Row(**json.loads(out.splitlines()[-1]))


def main() -> None:
    """Run the whole table, or one run of it for the parent process."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--reaches", type=int, nargs="+", default=[60, 200, 500])
    parser.add_argument("--seeds", type=int, default=5, help="how many seeds")
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--bottlenecks", nargs="+", choices=get_args(Bottleneck), default=list(get_args(Bottleneck)))
    parser.add_argument("--effort", type=float, default=Options().finish_effort, help="of the search, about seconds")
    parser.add_argument("--one", action="store_true", help="one run in this process: --seeds is then the seed")
    args = parser.parse_args()
    if args.one:
        row = run_one(args.reaches[0], args.seeds, args.bottlenecks[0], args.effort)
        print(json.dumps(asdict(row)))
        return
    print(HEADER)
    rows = []
    for reaches in args.reaches:
        for bottleneck in args.bottlenecks:
            for seed in range(args.first_seed, args.first_seed + args.seeds):
                rows.append(run_apart(reaches, seed, bottleneck, args.effort))
                print(rows[-1], flush=True)
    for reaches in args.reaches:
        print(summary(reaches, [r for r in rows if r.reaches == reaches]))
    print(f"{sum(r.good for r in rows)} of {len(rows)} runs kept time, lost hours and memory; the others say NO.")


def summary(reaches: int, rows: Sequence[Row]) -> str:
    """Say what the runs of one size lost and took."""
    lost, seconds = sorted(r.lost for r in rows), sorted(r.seconds for r in rows)
    nine_in_ten = lost[math.ceil(0.9 * len(lost)) - 1]
    return (
        f"\n{reaches} reaches, {len(rows)} runs: lost {median(lost):.2%} (median, {WANTED_MEDIAN_LOST:.1%} wanted),"
        f" nine in ten within {nine_in_ten:.2%} ({WANTED_LOST:.0%} wanted); {median(seconds):.1f} s,"
        f" at most {seconds[-1]:.1f} s"
    )


if __name__ == "__main__":
    main()
