"""The registry of solves: the same question once, one at a time, stopped when asked, faults kept."""

from __future__ import annotations

import os
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import pytest

import app.jobs
import scheduler
from app.jobs import KEPT_JOBS, LESS_URGENT, Jobs, _pages_first
from scheduler.solve.outcome import Options, Progress

WAIT_S = 20


@dataclass(frozen=True)
class Case:
    """Stands for an opened site: jobs are told apart by file and content."""

    sha256: str
    path: str = "site.yaml"


@dataclass(frozen=True)
class Planned:
    """Stands for a plan: whether only its finish was looked at, and how sure that is."""

    name: str
    only_finish: bool = False
    status: str = "optimal"
    schedule: object = "dates"

    @property
    def plan(self):
        return self


@dataclass(frozen=True)
class Answer:
    """Stands for an answer."""

    planned: Planned
    chains: tuple = ()
    checks: tuple = ()


class Solver:
    """Makes plans on command."""

    def __init__(self):
        self.first, self.go, self.go_on = threading.Event(), threading.Event(), threading.Event()
        self.begun = threading.Semaphore(0)
        self.calls, self.running, self.most_running = [], 0, 0
        self.fault, self.dates = None, "dates"

    def plan(self, case, options, *, progress, stop, begun=None):
        assert options.only_finish or begun == Planned(case.sha256, only_finish=True), "the finish is handed on"
        self.calls.append((case.sha256, options.slack_days, options.only_finish))
        self.running += 1
        self.most_running = max(self.most_running, self.running)
        self.begun.release()
        progress(Progress(0.1, "finish", 9.0, 7.0))
        gate = self.first if options.only_finish else self.go
        while not (gate.wait(0.01) or stop.is_set()):
            pass
        self.running -= 1
        if self.fault:
            raise self.fault
        status = "stopped" if stop.is_set() else "optimal"
        return Planned(case.sha256, options.only_finish, status, schedule=self.dates)

    def finish(self):
        for gate in (self.first, self.go, self.go_on):
            gate.set()

    def search(self, case, options, *, first):
        return Search(self, first)


@dataclass
class Search:
    """Finds one more plan on command, and then better ones until stopped."""

    solver: Solver
    first: Planned
    turns: int = 0

    def looks(self, stop):
        yield (self.first,)
        while not (self.solver.go_on.wait(0.01) or stop.is_set()):
            pass
        yield self.first, replace(self.first, name="other")

    def keep_looking(self, stop, *, workers):
        assert workers == 1, "a core is left to pages"
        while not stop.is_set():
            self.turns += 1
            if self.solver.fault:
                raise self.solver.fault
            yield self.first, replace(self.first, name=f"better {self.turns}")


@pytest.fixture
def solver(monkeypatch):
    fake = Solver()
    monkeypatch.setattr(scheduler, "plan", fake.plan)
    monkeypatch.setattr(scheduler, "ChoiceSearch", fake.search)
    monkeypatch.setattr(app.jobs, "Answer", Answer)
    yield fake
    fake.finish()


def ended(job):
    fault = job.future.exception(timeout=WAIT_S)
    return fault if job.rest is None else fault or job.rest.exception(timeout=WAIT_S)


def until(condition):
    for _ in range(WAIT_S * 100):
        if condition():
            return True
        threading.Event().wait(0.01)
    return False


def test_the_same_question_is_solved_once(solver):
    jobs = Jobs()
    first = jobs.ask(Case("a"), Options())
    assert jobs.ask(Case("a"), Options()) is first
    other = jobs.ask(Case("a"), Options(slack_days=1.0))
    assert other is not first
    solver.finish()
    assert ended(first) is None
    assert ended(other) is None
    assert jobs.ask(Case("a"), Options()) is first
    assert solver.calls == [("a", 0.0, True), ("a", 0.0, False), ("a", 1.0, True), ("a", 1.0, False)]


def test_a_copy_of_a_file_is_another_job_for_it_has_a_journal_of_its_own(solver):
    jobs = Jobs()
    first = jobs.ask(Case("a"), Options())
    other = jobs.ask(Case("a", "copy.yaml"), Options())
    assert other is not first
    solver.finish()
    assert ended(other) is None


def test_solves_run_one_at_a_time_and_the_next_waits(solver):
    jobs = Jobs()
    first, second = jobs.ask(Case("a"), Options()), jobs.ask(Case("b"), Options())
    assert solver.begun.acquire(timeout=WAIT_S)
    assert first.seconds is not None
    assert second.seconds is None
    solver.finish()
    assert ended(second) is None
    assert solver.most_running == 1


def test_other_plans_to_choose_from_keep_no_other_plan_waiting(solver):
    jobs = Jobs()
    first, second = jobs.ask(Case("a"), Options()), jobs.ask(Case("b"), Options())
    solver.first.set()
    solver.go.set()
    assert second.future.exception(timeout=WAIT_S) is None
    assert second.settled
    assert not first.done
    solver.finish()
    assert ended(first) is None
    assert first.done


def test_of_several_questions_about_a_site_only_the_last_keeps_waiting(solver):
    jobs = Jobs()
    begun = jobs.ask(Case("a"), Options())
    assert solver.begun.acquire(timeout=WAIT_S)
    passed_over, elsewhere = jobs.ask(Case("a"), Options(slack_days=0.5)), jobs.ask(Case("b"), Options())
    last = jobs.ask(Case("a"), Options(slack_days=1.0))
    assert passed_over.dropped
    assert passed_over.failure is None
    assert not elsewhere.dropped
    again = jobs.ask(Case("a"), Options(slack_days=0.5))
    assert again is not passed_over
    assert last.dropped
    solver.finish()
    for job in (begun, elsewhere, again):
        assert ended(job) is None
    assert ("a", 1.0, True) not in solver.calls


def test_progress_is_left_in_the_job(solver):
    job = Jobs().ask(Case("a"), Options())
    assert until(lambda: job.progress)
    assert (job.progress[0].value, job.progress[0].bound) == (9.0, 7.0)
    assert job.answer is None
    assert not job.done


def test_the_plan_is_there_before_the_later_aims_and_they_before_other_plans(solver):
    job = Jobs().ask(Case("a"), Options())
    solver.first.set()
    assert until(lambda: job.answer is not None)
    assert job.answer.planned == Planned("a", only_finish=True)
    assert not job.settled
    solver.go.set()
    assert until(lambda: job.settled)
    assert job.answer.planned == Planned("a")
    assert until(lambda: job.choices)
    assert [p.name for p in job.choices] == ["a"]
    assert not job.done
    solver.go_on.set()
    assert ended(job) is None
    assert job.answer.planned == Planned("a")
    assert [p.name for p in job.choices] == ["a", "other"]
    assert job.looked_for == 2


def looked(jobs, solver, name):
    """Return a job for which all plans to choose from are found."""
    solver.finish()
    job = jobs.ask(Case(name, f"{name}.yaml"), Options())
    assert ended(job) is None
    assert until(lambda: job.done)
    return job


def test_looking_on_goes_on_until_somebody_ends_it_and_offers_what_it_finds(solver):
    jobs = Jobs()
    job = looked(jobs, solver, "a")
    jobs.keep_looking(job, "as it was")
    assert until(lambda: job.looked_for > 3)
    assert job.choices[-1].name.startswith("better")
    assert job.looking.goes_on
    assert job.done, "the pages wait for nothing"
    job.looking.stop.set()
    assert not job.looking.goes_on
    assert job.looking.future.exception(timeout=WAIT_S) is None
    turns = job.search.turns
    jobs.keep_looking(job, "as it was")
    assert until(lambda: job.search.turns > turns)
    job.looking.stop.set()


def test_looking_on_ends_when_another_job_is_looked_at_longer_or_a_plan_is_asked_for(solver):
    jobs = Jobs()
    first, second = looked(jobs, solver, "a"), looked(jobs, solver, "b")
    jobs.keep_looking(first, "")
    assert until(lambda: first.search.turns)
    jobs.keep_looking(second, "")
    assert first.looking.future.exception(timeout=WAIT_S) is None
    assert until(lambda: second.search.turns)
    jobs.ask(Case("changed", "b.yaml"), Options())
    assert second.looking.future.exception(timeout=WAIT_S) is None
    assert not first.looking.goes_on
    assert not second.looking.goes_on


def test_looking_on_ends_when_the_record_goes_further(solver):
    jobs = Jobs()
    job = looked(jobs, solver, "a")
    jobs.keep_looking(job, (1, "a"))
    jobs.heed("a.yaml", (1, "a"))
    jobs.heed("b.yaml", (2, "b"))
    assert job.looking.goes_on
    jobs.heed("a.yaml", (2, "b"))
    assert not job.looking.goes_on
    assert job.looking.future.exception(timeout=WAIT_S) is None


def test_looking_on_ends_by_itself_after_a_time_and_a_fault_in_it_is_kept(solver, monkeypatch):
    jobs = Jobs()
    job = looked(jobs, solver, "a")
    monkeypatch.setattr(app.jobs, "MOST_S", 0.0)
    jobs.keep_looking(job, "")
    assert job.looking.future.exception(timeout=WAIT_S) is None
    assert job.search.turns == 1
    assert job.looking.failure is None
    solver.fault = RuntimeError("lost")
    jobs.keep_looking(job, "")
    assert until(lambda: job.looking.failure is not None)
    assert job.failure is None


def test_a_proved_finish_is_kept_when_the_later_aims_are_stopped(solver):
    job = Jobs().ask(Case("a"), Options())
    solver.first.set()
    assert until(lambda: job.answer is not None)
    job.stop.set()
    assert ended(job) is None
    assert job.settled
    assert (job.answer.planned.only_finish, job.answer.planned.status) == (True, "optimal")


def test_without_dates_nothing_more_is_looked_for(solver):
    solver.dates = None
    job = Jobs().ask(Case("a"), Options())
    solver.finish()
    assert ended(job) is None
    assert len(solver.calls) == 1
    assert job.settled


def test_a_stopped_solve_ends_and_can_be_asked_again(solver):
    jobs = Jobs()
    job = jobs.ask(Case("a"), Options())
    job.stop.set()
    assert ended(job) is None
    assert job.stopped
    assert job.answer.planned.status == "stopped"
    assert jobs.ask(Case("a"), Options()) is job
    fresh = jobs.ask(Case("a"), Options(), again=True)
    assert fresh is not job
    assert not fresh.stopped


def test_asking_again_while_it_runs_changes_nothing(solver):
    jobs = Jobs()
    job = jobs.ask(Case("a"), Options())
    assert jobs.ask(Case("a"), Options(), again=True) is job


def test_a_fault_in_the_worker_is_kept_and_hurts_no_other(solver):
    jobs = Jobs()
    solver.fault = RuntimeError("lost")
    bad = jobs.ask(Case("a"), Options())
    solver.finish()
    assert str(ended(bad)) == "lost"
    assert bad.failure is not None
    assert bad.answer is None
    solver.fault = None
    good = jobs.ask(Case("b"), Options())
    assert ended(good) is None
    assert good.failure is None


def test_old_jobs_are_dropped_and_told_to_stop(solver):
    jobs = Jobs()
    oldest = jobs.ask(Case("first"), Options())
    for i in range(KEPT_JOBS):
        jobs.ask(Case(str(i)), Options())
    assert oldest.stopped
    assert jobs.ask(Case("first"), Options()) is not oldest


def test_the_registry_is_one_for_all_sessions():
    assert app.jobs.jobs() is app.jobs.jobs()
    assert isinstance(app.jobs.jobs(), Jobs)


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere threads cannot be told apart")
@pytest.mark.parametrize("refused", [False, True])
def test_searches_are_less_urgent_than_pages_and_go_on_where_the_system_says_no(
    monkeypatch: pytest.MonkeyPatch, refused: bool
) -> None:
    def says_no(*_: int) -> None:
        raise PermissionError

    if refused:
        monkeypatch.setattr("app.jobs.os.setpriority", says_no)
    own = os.getpriority(os.PRIO_PROCESS, 0)
    with ThreadPoolExecutor(1, initializer=_pages_first) as pool:
        found = pool.submit(lambda: os.getpriority(os.PRIO_PROCESS, threading.get_native_id())).result()
    assert found == (own if refused else max(LESS_URGENT, own))
    assert os.getpriority(os.PRIO_PROCESS, 0) == own
