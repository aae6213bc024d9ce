"""One run of CP-SAT on a search: effort limits, progress, a way to stop, and the dates found."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field

from ortools.sat.python import cp_model
from psutil import Process

from scheduler.solve.formulation.variables import Search
from scheduler.solve.outcome import Options, Progress, stopped

DETERMINISTIC_PER_EFFORT = 0.2
"""The solver's own units of work in a second of one core on these models (a rough choice; no measurement is kept)."""

MOST_GROWTH = 2_000_000_000
"""Bytes by which the program may grow during a search before that is ended: a safety net, as the limit on wall time is.
A bundled site takes some hundred million in all."""


@dataclass(frozen=True)
class SearchResult:
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
    def sound(self) -> bool:
        """Whether the bound is one: the run was neither refused nor cut off before it began."""
        return self.status in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN) and abs(self.bound) < 1e15

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
    _best: dict[str, tuple[float | None, float | None]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def seconds(self) -> float:
        """Wall seconds since the solve began."""
        return time.monotonic() - self.began

    @property
    def stopped(self) -> bool:
        """Whether somebody asked to stop, or the safety net on wall time has been reached."""
        return stopped(self.stop) or self.seconds > self.options.wall_seconds

    def tell(self, stage: str, value: float | None, bound: float | None, note: str = "") -> None:
        """Report the best value and bound of a stage so far to whoever listens."""
        if self.progress is None:
            return
        with self._lock:
            known_value, known_bound = self._best.get(stage, (None, None))
            value = min((x for x in (value, known_value) if x is not None), default=None)
            bound = max((x for x in (bound, known_bound) if x is not None), default=None)
            self._best[stage] = value, bound
            self.progress(Progress(self.seconds, stage, value, bound, note))

    def run(
        self,
        search: Search,
        *,
        effort: float,
        hint: Mapping[str, int] | None = None,
        by_core: bool = False,
        from_below: bool = False,
        presolve: bool = True,
        seed: int = 0,
        listen: Callable[[float, float], None] | None = None,
        cancel: threading.Event | None = None,
    ) -> SearchResult:
        """Solve a search within an effort. `listen` hears of each better value, with the bound then.

        `by_core` raises the bound by finding parts of the objective that can't all be nothing.
        `from_below` looks for nothing but a bound, in a tree whose nodes are taken lowest bound first.
        `presolve` simplifies the model first; no effort is counted for that, and in a whole long job it takes
        far longer than the search.
        `seed` is added to the chance number of the solve. Setting `cancel` ends this run alone.
        """
        solver = cp_model.CpSolver()
        self._set(solver, effort)
        solver.parameters.random_seed = self.options.seed + seed
        solver.parameters.cp_model_presolve = presolve
        if by_core and self.options.reproducible:
            # Cores are left as they are found: smaller ones bring neither bundled site a better bound.
            solver.parameters.optimize_with_core = True
            solver.parameters.core_minimization_level = 0
        if from_below:
            solver.parameters.optimize_with_lb_tree_search = True
            solver.parameters.linearization_level = 1
        if hint is not None:
            add_hint(search, hint)
        with self._watched(solver, cancel):
            status = solver.solve(search.model, _Listener(listen) if listen else None)
        starts = None
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            starts = {a: solver.value(p.start) for a, p in search.placed.items()}
        spent = solver.response_proto.deterministic_time / DETERMINISTIC_PER_EFFORT
        assumed = tuple(solver.sufficient_assumptions_for_infeasibility()) if status == cp_model.INFEASIBLE else ()
        return SearchResult(status, starts, solver.objective_value, solver.best_objective_bound, spent, assumed)

    def _set(self, solver: cp_model.CpSolver, effort: float) -> None:
        """Set a solver's limits.

        A reproducible run has one worker: several that share what they learn differ from run
        to run, and taking turns in a fixed order costs more than it gains (no measurement is kept). Linear
        relaxations are off then, as they are weak on these models and slow every step.

        The model is not simplified once more during a search, which takes most of the effort: without that the small
        site's open trench is proved (2,220 ft nights; 2,484 with it, against a bound of 972).
        """
        p = solver.parameters
        p.use_sat_inprocessing = False
        p.max_time_in_seconds = max(0.01, self.options.wall_seconds - self.seconds)
        if self.options.reproducible:
            p.num_workers = 1
            p.max_deterministic_time = DETERMINISTIC_PER_EFFORT * effort
            p.linearization_level = 0
            p.cp_model_probing_level = 0
        else:
            p.num_workers = self.options.workers
            p.max_time_in_seconds = min(p.max_time_in_seconds, effort)

    @contextmanager
    def _watched(self, solver: cp_model.CpSolver, cancel: threading.Event | None) -> Iterator[None]:
        """Stop the solver soon after somebody asks to, or when it takes too much memory."""
        events = [e for e in (self.stop, cancel) if e is not None]
        done, program = threading.Event(), Process()
        most = program.memory_info().rss + MOST_GROWTH

        def watch() -> None:
            while not done.wait(0.05):
                if any(e.is_set() for e in events) or program.memory_info().rss > most:
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
