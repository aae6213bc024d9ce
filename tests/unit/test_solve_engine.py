"""What ends a search beside its effort."""

from __future__ import annotations

import threading

import pytest
from ortools.sat.python import cp_model

from scheduler.solve.formulation import engine
from scheduler.solve.formulation.constraint_model import build
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.outcome import Options
from tests.jobs import job, task


def test_a_search_that_takes_too_much_memory_is_ended(monkeypatch: pytest.MonkeyPatch):
    ended, answers = threading.Event(), []
    network = job(task("dig", 4))

    def searches_until_it_is_ended(solver: cp_model.CpSolver, *_: object) -> cp_model.CpSolverStatus:
        answers.append(ended.wait(20))
        return whole(solver, search.model)

    whole = cp_model.CpSolver.solve
    monkeypatch.setattr(cp_model.CpSolver, "solve", searches_until_it_is_ended)
    monkeypatch.setattr(cp_model.CpSolver, "stop_search", lambda _: ended.set())
    monkeypatch.setattr(engine, "MOST_GROWTH", -1_000_000_000_000)
    search = build(TimeWindows(network), PrecedenceOrder(network))
    engine.Engine(Options(workers=1)).run(search, effort=1.0)
    assert answers == [True]
