"""One run of CP-SAT on a search: effort limits, progress, a way to stop, and the dates found."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from scheduler.solve.outcome import Options, Progress
from scheduler.solve.variables import Search


@dataclass(frozen=True)
class Found:
    """What one run found: starts in work ticks, the objective's value and its bound."""

    status: cp_model.CpSolverStatus
    starts: dict[str, int] | None
    value: float
    bound: float
    effort: float
    assumed: tuple[int, ...] = ()
    """Where nothing exists: the literals assumed that rule everything out."""

    @property
    def proved(self) -> bool:
        """Whether nothing better exists."""
        return self.status == cp_model.OPTIMAL

    @property
    def impossible(self) -> bool:
        """Whether nothing exists at all."""
        return self.status == cp_model.INFEASIBLE


@dataclass
class Engine:
    """Runs searches for one solve; keeps its clock, its options, and who listens to it."""

    options: Options
    progress: Callable[[Progress], None] | None = None
    stop: threading.Event | None = None
    began: float = field(default_factory=time.monotonic)

    @property
    def seconds(self) -> float:
        """Wall seconds since the solve began."""
        return time.monotonic() - self.began

    @property
    def stopped(self) -> bool:
        """Whether somebody asked to stop, or the safety net on wall time has been reached."""
        return (self.stop is not None and self.stop.is_set()) or self.seconds > self.options.wall_seconds

    def tell(self, stage: str, value: float | None, bound: float | None, note: str = "") -> None:
        """Report progress to whoever listens."""
        if self.progress is not None:
            self.progress(Progress(self.seconds, stage, value, bound, note))

    def run(
        self,
        search: Search,
        *,
        effort: float,
        hint: Mapping[str, int] | None = None,
        by_core: bool = False,
        listen: Callable[[float, float], None] | None = None,
    ) -> Found:
        """Solve a search within an effort. `listen` hears of each better value, with the bound then.

        `by_core` raises the bound by finding parts of the objective that can't all be nothing.
        """
        solver = cp_model.CpSolver()
        self._set(solver, effort)
        solver.parameters.optimize_with_core = by_core and self.options.reproducible
        if hint is not None:
            add_hint(search, hint)
        with self._watched(solver):
            status = solver.solve(search.model, _Listener(listen) if listen else None)
        starts = None
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            starts = {a: solver.value(p.start) for a, p in search.placed.items()}
        spent = solver.response_proto.deterministic_time
        assumed = tuple(solver.sufficient_assumptions_for_infeasibility()) if status == cp_model.INFEASIBLE else ()
        return Found(status, starts, solver.objective_value, solver.best_objective_bound, spent, assumed)

    def _set(self, solver: cp_model.CpSolver, effort: float) -> None:
        """Set a solver's limits.

        A reproducible run has one worker: several that share what they learn differ from run
        to run, and taking turns in a fixed order costs more than it gains (measured). Linear
        relaxations are off then, as they are weak on these models and slow every step.
        """
        p = solver.parameters
        p.random_seed = self.options.seed
        p.max_time_in_seconds = max(0.01, self.options.wall_seconds - self.seconds)
        if self.options.reproducible:
            p.num_workers = 1
            p.max_deterministic_time = effort
            p.linearization_level = 0
            p.cp_model_probing_level = 0
        else:
            p.num_workers = self.options.workers
            p.max_time_in_seconds = min(p.max_time_in_seconds, effort)

    @contextmanager
    def _watched(self, solver: cp_model.CpSolver) -> Iterator[None]:
        """Stop the solver soon after somebody asks to."""
        if self.stop is None:
            yield
            return
        stop, done = self.stop, threading.Event()

        def watch() -> None:
            while not done.wait(0.05):
                if stop.is_set():
                    solver.stop_search()

        watcher = threading.Thread(target=watch, daemon=True)
        watcher.start()
        try:
            yield
        finally:
            done.set()
            watcher.join()


class _Listener(cp_model.CpSolverSolutionCallback):
    """Passes each better value on."""

    def __init__(self, listen: Callable[[float, float], None]) -> None:
        super().__init__()
        self._listen = listen

    def on_solution_callback(self) -> None:
        """Tell the value found and the bound at that moment."""
        self._listen(self.objective_value, self.best_objective_bound)


def add_hint(search: Search, starts: Mapping[str, int]) -> None:
    """Tell a search where to begin: starts in work ticks."""
    for activity, placed in search.placed.items():
        if isinstance(placed.start, cp_model.IntVar) and activity in starts:
            search.model.add_hint(placed.start, starts[activity])
