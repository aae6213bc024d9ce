"""What is given up, step by step, where a job as it stands has no plan with all of it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from dataclasses import replace

from scheduler.replan.aims import Choice, Chooser
from scheduler.situation.job import StandingJob
from scheduler.situation.trade_notice import with_trade_notice
from scheduler.solve.outcome import Options, Progress, stopped

SHORT_NOTICE = (
    "No plan gives everybody on site the notice they need. What is marked 'short notice' moves to sooner than its "
    "people can be told: ask them first."
)


def way_taken(
    job: StandingJob,
    options: Options,
    progress: Callable[[Progress], None] | None,
    stop: threading.Event | None,
) -> tuple[StandingJob, list[Choice], list[str]]:
    """Return the first way on which a plan leaves what cannot move where it is, what was chosen there, and its notes.

    Where there is none, the first way on which there is a plan at all.
    """
    first: tuple[StandingJob, list[Choice], list[str]] | None = None
    choices: list[Choice] = []
    for tried, note in _ways(job):
        chooser = Chooser(tried, options, progress, stop)
        if first is None or chooser.keeps_what_cannot_move():
            choices = chooser.choices()
            if any(c.schedule is not None for c in choices):
                if chooser.keeps_what_cannot_move():
                    return tried, choices, note
                first = first or (tried, choices, note)
        if stopped(stop):
            break
    return first or (job, choices, [])


def _ways(job: StandingJob) -> Iterator[tuple[StandingJob, list[str]]]:
    """Yield the job with more and more of it given up, and what that is, for when there is no plan without.

    First with work in progress going on, then free to be broken off, then with no target finish, and last with no
    notice for those who are on site.
    """
    going, target = job.going_on(), job.network.target
    told = with_trade_notice(going)
    yield told, []
    if going is not job:
        yield with_trade_notice(job), ["Not all work in progress can go on at once; some of it is broken off."]
    late = [] if target is None else [f"{target.because} That cannot be kept any more."]
    if target is not None:
        yield _no_target(with_trade_notice(job)), late
    if told is not going:
        yield job, [SHORT_NOTICE]
        if target is not None:
            yield _no_target(job), [*late, SHORT_NOTICE]


def _no_target(job: StandingJob) -> StandingJob:
    return replace(job, network=replace(job.network, target=None))
