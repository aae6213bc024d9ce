"""Plans that are made once for a whole run of the tests: every test and every process of the run reads the same file.

A plan is the same whenever it is made of the same site with the same options, so nothing is lost where a test asks
what is done with a plan and not how it is found. Tests of the search itself call `scheduler.plan`.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import pickle
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

import scheduler
from scheduler import Case, Options, PlanChoice, Planned, bundled_sites

T = TypeVar("T")
KEPT_PLANS = "JOINTTRENCH_TEST_PLANS"
"""Names the folder of this run in which plans are kept; where it is unset, each plan is made anew."""
MAKE = scheduler.plan
"""The function itself, also where `as_kept` has been put in its place."""


def kept_plan(case: Case, options: Options | None = None) -> Planned:
    """Return the plan of a site as it was loaded, made by whoever asks first in this run; others wait for it."""
    options = options or Options()

    def make() -> tuple[Any, ...]:
        made = _made(case, options)
        return made.plan, made.schedule, made.broken, made.outcome

    plan, *more = _once(_asked("plan", case, options), make)
    return Planned(case.fitting(plan), plan, *more)


def kept_choices(case: Case, options: Options) -> list[tuple[PlanChoice, ...]]:
    """Return what each look for plans to choose from found, made like a kept plan."""
    return _once(_asked("choices", case, options), lambda: list(scheduler.choices(case, options)))


def _asked(what: str, case: Case, options: Options) -> str:
    return repr((what, case.path.name, case.sha256, case.site, case.network.margin_percent, options))


def _once(asked: str, make: Callable[[], T]) -> T:
    """Return what a question is answered with, from the file of this run if it was asked there before."""
    folder = os.environ.get(KEPT_PLANS)
    if folder is None:
        return make()
    file = Path(folder) / hashlib.sha256(asked.encode()).hexdigest()
    with file.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not file.exists():
            unfinished = file.with_suffix(".new")
            unfinished.write_bytes(pickle.dumps(make()))
            unfinished.rename(file)
    found: T = pickle.loads(file.read_bytes())
    return found


def _made(case: Case, options: Options) -> Planned:
    """Return a new plan; the finish, which more tests ask for than for the whole, is taken as it is kept."""
    begun = None if options.only_finish else kept_plan(case, replace(options, only_finish=True))
    return MAKE(case, options, begun=begun)


def as_kept(case: Case, options: Options | None = None, **how: Any) -> Planned:
    """Plan like `scheduler.plan`; of a bundled site as it is, return the plan kept for this run."""
    if case.sha256 in {hashlib.sha256(path.read_bytes()).hexdigest() for path in bundled_sites().values()}:
        return kept_plan(case, options)
    return MAKE(case, options, **how)
