"""Solves in worker threads: one at a time, watched and stopped from any session.

A worker never touches the page; it leaves progress and answers in its job, and pages read them there.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

import scheduler
from app.answer import Answer
from scheduler import Case, ChoiceSearch, Options, PlanChoice, Planned, Progress

KEPT_JOBS = 16
PAUSE_S = 0.001
"""What a search that gives way leaves to pages each time it asks whether to stop, some hundred times a second."""
LESS_URGENT = 10
"""How much less urgent searches are than pages, on the system's scale from 0 to 19."""
MOST_S = 1800.0
"""Looking on ends after so long, if nobody ends it before."""


class GivesWay(threading.Event):
    """Stops a search, and slows it: whenever it asks, pages get their turn first."""

    def is_set(self) -> bool:
        """Return whether to stop, after a moment in which others may work."""
        time.sleep(PAUSE_S)
        return super().is_set()


@dataclass
class LookingOn:
    """Looking on for better plans to choose from, for as long as the record stays as it was."""

    standing: object
    """How far the record went when it began."""
    stop: threading.Event = field(default_factory=GivesWay)
    began: float = field(default_factory=time.monotonic)
    future: Future[None] | None = None

    @property
    def goes_on(self) -> bool:
        """Whether it is still looked."""
        return self.future is not None and not self.future.done() and not threading.Event.is_set(self.stop)

    @property
    def failure(self) -> BaseException | None:
        """What went wrong, if anything."""
        ended = self.future is not None and self.future.done() and not self.future.cancelled()
        return self.future.exception() if ended and self.future is not None else None


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
    search: ChoiceSearch | None = None
    """How the plans to choose from were found, for going on with it."""
    looking: LookingOn | None = None
    """The looking on that somebody asked for last."""

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
        self._pool = ThreadPoolExecutor(1, "solve", initializer=_pages_first)
        self._rest = ThreadPoolExecutor(1, "choices", initializer=_pages_first)
        self._jobs: dict[tuple[Path, str, Options], Job] = {}
        self._lock = threading.Lock()

    def ask(self, case: Case, options: Options, *, again: bool = False) -> Job:
        """Return the job that answers this question, starting it if need be, or once more if it is done."""
        key = (case.path, case.sha256, options)
        with self._lock:
            job = self._jobs.get(key)
            if job is None or job.dropped or (again and job.done):
                self._drop_waiting(case)
                self._end_looking()
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
            self._end_looking()
            planned, job.not_asked = job.not_asked, None
            if planned is not None:
                job.rest = self._rest.submit(_choose, job, planned)

    def keep_looking(self, job: Job, standing: object) -> None:
        """Go on looking for better plans to choose from, for one job of this server at a time.

        It ends when somebody ends it, asks for another plan, or `heed` finds the record to be another than `standing`.
        """
        with self._lock:
            self._end_looking()
            if job.search is not None:
                job.looking = looking = LookingOn(standing)
                looking.future = self._rest.submit(_look_on, job, job.search, looking)

    def heed(self, path: Path, standing: object) -> None:
        """End what is looked for beyond the first choices of a site whose record goes further than when it began."""
        for job in list(self._jobs.values()):
            if job.case.path == path and job.looking is not None and job.looking.standing != standing:
                job.looking.stop.set()

    def _end_looking(self) -> None:
        for job in self._jobs.values():
            if job.looking is not None:
                job.looking.stop.set()

    def _drop_waiting(self, case: Case) -> None:
        """Drop the questions about a site that still wait their turn; whoever still wants one asks again."""
        for job in self._jobs.values():
            if (job.case.sha256, job.case.path) == (case.sha256, case.path) and job.future is not None:
                job.future.cancel()


def _pages_first() -> None:
    """Let pages have the processor before this thread and those that it starts, where the system can tell threads."""
    if sys.platform == "linux":
        thread = threading.get_native_id()
        with suppress(OSError):  # a plan that is as urgent as pages is better than none
            os.setpriority(os.PRIO_PROCESS, thread, max(LESS_URGENT, os.getpriority(os.PRIO_PROCESS, thread)))


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
    search = scheduler.ChoiceSearch(job.case, job.options, first=planned)
    for found in search.looks(job.stop):
        job.choices = found
        job.looked_for += 1
    job.search = search


def _look_on(job: Job, search: ChoiceSearch, looking: LookingOn) -> None:
    """Look on with one worker, so that a core is left to pages, for as long as that is wanted."""
    for found in search.keep_looking(looking.stop, workers=1):
        job.choices = found
        job.looked_for += 1
        if time.monotonic() - looking.began > MOST_S:
            break


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
