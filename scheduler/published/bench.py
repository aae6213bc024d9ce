"""Published instances through the same solver; one line of CSV for each."""

from __future__ import annotations

import csv
from typing import TextIO

from scheduler.published.instances import read_instances
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve

COLUMNS = ("name", "status", "value", "bound", "seconds")


def run_bench(path: str, *, limit_seconds: float, out: TextIO) -> None:
    """Solve every instance at a path for its finish alone and write value and bound as CSV.

    Value and bound are in the instance's own unit of time. Raises BadInput on a bad path.
    """
    options = Options(workers=8, only_finish=True, reproducible=False, finish_effort=limit_seconds)
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for network in read_instances(path):
        outcome = solve(network, options)
        value = outcome.schedule.finish if outcome.schedule else ""
        bound = "" if outcome.finish_bound is None else outcome.finish_bound
        writer.writerow((network.name, outcome.status.value, value, bound, f"{outcome.seconds:.2f}"))
        out.flush()
