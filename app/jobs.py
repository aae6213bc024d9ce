"""Solves in worker threads: one at a time, watched and stopped from any session.

A worker never touches the page; it leaves progress and answers in its job, and pages read them there.
"""

from __future__ import annotations

import threading
import time
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import scheduler
from app.answer import Answer
from scheduler import Case, Options, PlanChoice, Planned, Progress

KEPT_JOBS = 16


@dataclass
class Job:
    """One solve: what was asked, how far it is, and what came of it."""

    case: Case
    options: Options
    stop: threading.Event = field(default_factory=threading.Event)
    begun: float | None = None
    progress: list[Progress] = field(default_factory=list)
    answer: Answer | None = None
    """The plan as soon as its finish is settled; then the one in which the later aims are looked at too."""
    settled: bool = False
    """Whether the dates of the answer will change no more; other plans to choose from may still be added."""
    choices: tuple[PlanChoice, ...] = ()
    """The plans to choose from, found so far; the first is the one of the answer."""
    not_asked: Planned | None = None
    """The plan to which others may be looked for, as long as nobody asked for them."""
    looked_for: int = 0
    """How often more of them were looked for."""
    answers: dict[int, Answer] = field(default_factory=dict)
    """Answers of the other plans to choose from that somebody looked at, each by the identity of its plan."""
    future: Future[None] | None = None
    rest: Future[None] | None = None
    """What is looked at once the dates stand; it keeps nobody else's plan waiting."""

    @property
    def done(self) -> bool:
        """Whether nothing more will come."""
        return self.future is not None and all(f.done() for f in self._parts)

    def answer_of(self, planned: Planned) -> Answer:
        """Return the answer of one of the plans to choose from, made when somebody first looks at it."""
        if self.answer is not None and self.answer.planned is planned:
            return self.answer
        return self.answers.setdefault(id(planned), Answer(planned))

    @property
    def dropped(self) -> bool:
        """Whether it was given up before its turn came."""
        return self.future is not None and self.future.cancelled()

    @property
    def failure(self) -> BaseException | None:
        """What went wrong in the worker, if anything."""
        ended = (f for f in self._parts if f.done() and not f.cancelled())
        return next((e for f in ended if (e := f.exception()) is not None), None)

    @property
    def _parts(self) -> list[Future[None]]:
        return [f for f in (self.future, self.rest) if f is not None]

    @property
    def stopped(self) -> bool:
        """Whether somebody stopped it before it had looked at everything."""
        return self.stop.is_set()

    @property
    def seconds(self) -> float | None:
        """Seconds since its worker began; None while it waits for another's to end."""
        return None if self.begun is None else time.monotonic() - self.begun


class Jobs:
    """All solves of this server, by what was asked; the same question of the same file is solved once.

    A copy of a file is another job: it has a journal of its own.
    """

    def __init__(self, *, choices_at_once: bool = True) -> None:
        """Look for the plans to choose from as soon as a plan stands, or only when somebody asks for them."""
        self._at_once = choices_at_once
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="solve")
        self._rest = ThreadPoolExecutor(max_workers=1, thread_name_prefix="choices")
        self._jobs: dict[tuple[Path, str, Options], Job] = {}
        self._lock = threading.Lock()

    def ask(self, case: Case, options: Options, *, again: bool = False) -> Job:
        """Return the job that answers this question, starting it if need be, or once more if it is done."""
        key = (case.path, case.sha256, options)
        with self._lock:
            job = self._jobs.get(key)
            if job is None or job.dropped or (again and job.done):
                self._drop_waiting(case)
                job = Job(case, options)
                job.future = self._pool.submit(_work, job, self._rest, at_once=self._at_once)
                self._jobs.pop(key, None)
                self._jobs[key] = job
                while len(self._jobs) > KEPT_JOBS:
                    oldest = next(iter(self._jobs))
                    self._jobs.pop(oldest).stop.set()
            return job

    def look_further(self, job: Job) -> None:
        """Look for other plans to choose from, once."""
        with self._lock:
            planned, job.not_asked = job.not_asked, None
            if planned is not None:
                job.rest = self._rest.submit(_choose, job, planned)

    def _drop_waiting(self, case: Case) -> None:
        """Drop the questions about a site that still wait their turn; whoever still wants one asks again."""
        for job in self._jobs.values():
            if (job.case.sha256, job.case.path) == (case.sha256, case.path) and job.future is not None:
                job.future.cancel()


def _work(job: Job, rest: Executor, *, at_once: bool) -> None:
    job.begun = time.monotonic()
    planned = scheduler.plan(
        job.case, replace(job.options, only_finish=True), progress=job.progress.append, stop=job.stop
    )
    job.answer = _ready(Answer(planned))
    if planned.schedule is not None and not job.stopped:
        whole = scheduler.plan(job.case, job.options, progress=job.progress.append, stop=job.stop, begun=planned)
        # One that was stopped before its finish was as sure as the first one's is of no use.
        if whole.plan.status in ("optimal", planned.plan.status):
            planned = whole
            job.answer = _ready(Answer(planned))
    job.rest = rest.submit(_look_further, job, planned, at_once=at_once)
    job.settled = True


def _look_further(job: Job, planned: Planned, *, at_once: bool) -> None:
    job.answer = _ready(job.answer or Answer(planned), checked=True)
    if at_once:
        _choose(job, planned)
    elif planned.schedule is not None:
        job.not_asked = planned


def _choose(job: Job, planned: Planned) -> None:
    for found in scheduler.choices(job.case, job.options, first=planned, stop=job.stop):
        job.choices = found
        job.looked_for += 1


def _ready(answer: Answer, *, checked: bool = False) -> Answer:
    """Return an answer whose chains, and at the end its checks, need no waiting for."""
    _ = answer.chains
    if checked:
        _ = answer.checks
    return answer


@cache
def jobs() -> Jobs:
    """The one registry of this server."""
    return Jobs(choices_at_once=False)
