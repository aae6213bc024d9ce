"""What contingency the work that is left can still have: a delay uses it up before the finish moves."""

from __future__ import annotations

import threading
from collections.abc import Iterable
from dataclasses import replace

from scheduler.situation.job import StandingJob
from scheduler.situation.trade_notice import with_trade_notice
from scheduler.solve.outcome import Options, stopped
from scheduler.solve.run import solve


def with_margin_left(
    jobs: Iterable[StandingJob], options: Options, stop: threading.Event | None = None
) -> tuple[StandingJob, list[str]]:
    """Return the first of several standings of a job with which the finish of the plan before can be kept, and a note.

    `jobs` is one job with less and less contingency in its work; it comes back with the least where none keeps the
    finish. The note says how much was used up; there is none where all is left.
    """
    (job, *further) = jobs
    wanted = job.network.margin_percent
    for less in further:
        if _keeps_finish(job, options, stop):
            break
        job = less
    left = job.network.margin_percent
    if left == wanted:
        return job, []
    rest = f"{left} %" if left else "none"
    return job, [
        f"The plan before had {wanted} % more time in all own work; for the sake of the finish {rest} is left."
    ]


def _keeps_finish(job: StandingJob, options: Options, stop: threading.Event | None) -> bool:
    """Tell whether a plan is found that ends no later than the plan before."""
    if job.before.finish is None or stopped(stop):
        return True
    network = with_trade_notice(job.going_on()).with_firm(job.bound)
    found = solve(network, replace(options, only_finish=True, conflict_effort=0), stop=stop)
    return found.schedule is not None and found.schedule.finish <= network.clock.tick(job.before.finish)
