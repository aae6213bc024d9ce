"""Solves in worker threads: one at a time, watched and stopped from any session.

A worker never touches the page; it leaves progress in its job, and pages read it there.
"""

from __future__ import annotations

import threading
import time
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field

import streamlit as st

from scheduler.planning import Case, Planned, make_plan
from scheduler.solve.outcome import Options, Progress

KEPT_JOBS = 16


@dataclass
class Job:
    """One solve: what was asked, how far it is, and what came of it."""

    case: Case
    options: Options
    stop: threading.Event = field(default_factory=threading.Event)
    begun: float = field(default_factory=time.monotonic)
    progress: list[Progress] = field(default_factory=list)
    future: Future[Planned] | None = None

    @property
    def done(self) -> bool:
        """Whether the solve has ended, one way or another."""
        return self.future is not None and self.future.done()

    @property
    def planned(self) -> Planned | None:
        """The plan, once there is one."""
        if self.future is None or not self.future.done() or self.future.exception() is not None:
            return None
        return self.future.result()

    @property
    def failure(self) -> BaseException | None:
        """What went wrong in the worker, if anything."""
        return self.future.exception() if self.future is not None and self.future.done() else None

    @property
    def waiting(self) -> bool:
        """Whether it queues behind another solve."""
        return self.future is not None and not self.future.running() and not self.future.done()


class Jobs:
    """All solves of this server, by what was asked; the same question is solved once."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="solve")
        self._jobs: dict[tuple[str, Options], Job] = {}
        self._lock = threading.Lock()

    def ask(self, case: Case, options: Options, *, again: bool = False) -> Job:
        """Return the job that answers this question, starting it if need be."""
        key = (case.sha256, options)
        with self._lock:
            job = self._jobs.get(key)
            if job is None or (again and job.done):
                job = Job(case, options)
                job.future = self._pool.submit(_work, job)
                self._jobs.pop(key, None)
                self._jobs[key] = job
                while len(self._jobs) > KEPT_JOBS:
                    oldest = next(iter(self._jobs))
                    self._jobs.pop(oldest).stop.set()
            return job


def _work(job: Job) -> Planned:
    job.begun = time.monotonic()
    return make_plan(job.case, job.options, progress=job.progress.append, stop=job.stop, with_curve=True)


@st.cache_resource(show_spinner=False)
def jobs() -> Jobs:
    """The one registry of this server."""
    return Jobs()
