"""Bettering a plan by search: the whole of a small job at once, and any job part by part.

The whole search proves its answer when it ends. Parts leave the rest of the plan where it is,
or nearly, so each is small; the parts of one round are searched side by side, each by one
worker, and the best is kept, so that the outcome does not depend on which ends first.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from random import Random

from scheduler.network.model import Network
from scheduler.solve.formulation.constraint_model import build, schedule_of
from scheduler.solve.formulation.engine import Engine, SearchResult
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.goals import Goal, express

PART_EFFORT = 1.2
BUILD_EFFORT = 2.5e-4
"""Of making the model of a part, for each activity of the job."""
WHOLE = 220
"""Jobs of up to so many activities are searched whole."""
LOOSENESS = (12, 24, 36)
"""How far what is not freed may move, either way [work ticks]."""
SMALLEST, LARGEST = 2, 8
"""Reaches freed at once, or as many activities as so many reaches have on average."""
WHOLE_SEARCHES = 2
"""Searches of a whole job side by side, each on money with a chance number of its own."""


@dataclass(frozen=True)
class Task:
    """A plan to better: its goal, the earlier goals it must keep to, and the frame it lives in."""

    frame: TimeWindows
    order: PrecedenceOrder
    goal: Goal
    kept: tuple[tuple[Goal, int], ...] = ()
    least: int = 0
    """Nothing smaller than this is possible [units of the goal]."""
    every_plan: bool = True
    """Whether the frame has every plan that is asked about: else what a search proves holds in the frame alone."""

    def amount(self, starts: Mapping[str, int]) -> int:
        """Return what the goal amounts to in a plan."""
        return self.goal.amount(self.frame.network, schedule_of(self.frame, starts))

    def tell(self, engine: Engine, value: float, bound: float) -> None:
        """Report a value met to whoever listens, and a bound where it holds of every plan."""
        per = self.goal.per_unit
        engine.tell(self.goal.name, value / per, max(bound, self.least) / per if self.every_plan else None)


def search_whole(engine: Engine, task: Task, starts: dict[str, int], effort: float) -> tuple[dict[str, int], int]:
    """Search a whole job for the best of its goal, from a plan on; return the plan and the proved least.

    With two workers one closes in from below and one from above on what grows by whole steps; on money both come from
    above, with other chance numbers. Only a proof by the first ends the other early, as its plan is taken then whatever
    the other has.
    """
    turns = range(WHOLE_SEARCHES if engine.options.workers > 1 and engine.options.reproducible else 1)
    proved = threading.Event()

    def search(turn: int) -> SearchResult:
        found = _search_one_way(engine, task, starts, effort, turn, cancel=proved if turn else None)
        if turn == 0 and found.proved:
            proved.set()
        return found

    with ThreadPoolExecutor(len(turns)) as pool:
        found = list(pool.map(search, turns))
    plans = [(round(f.value), f.starts) for f in found if f.starts is not None]
    value, plan = min([*plans[: 1 if found[0].proved else None], (task.amount(starts), starts)], key=lambda p: p[0])
    bounds = [round(f.bound) for f in (found[:1] if found[0].proved else found) if f.sound]
    return plan, min(value, max([task.least, *bounds]))


def _search_one_way(
    engine: Engine,
    task: Task,
    starts: dict[str, int],
    effort: float,
    turn: int,
    *,
    cancel: threading.Event | None,
) -> SearchResult:
    """Search core by core in the first turn where each core raises the bound by a whole step, else from above.

    A core raises money by cents: on a random site they took 16 GB, and hardly any effort was counted for them.
    """
    steps = task.goal.in_steps
    search = build(task.frame, task.order)
    aim = express(search, task.goal, task.kept)
    search.model.add(aim >= task.least)
    search.model.minimize(aim)
    listen = partial(task.tell, engine)
    by_core, seed = steps and turn == 0, 0 if steps else turn
    return engine.run(search, effort=effort, hint=starts, by_core=by_core, seed=seed, listen=listen, cancel=cancel)


def search_parts(engine: Engine, task: Task, starts: dict[str, int], effort: float) -> dict[str, int]:
    """Better a plan part by part within an effort, which the last round may exceed; return the plan reached."""
    value, spent = task.amount(starts), 0.0
    parts = _Parts(task, Random(engine.options.seed))
    with ThreadPoolExecutor(max(1, engine.options.workers)) as pool:
        while spent < effort and value > task.least and not engine.stopped:
            frames = list(parts.draw(starts, max(1, engine.options.workers)))
            if not frames:
                break
            found = list(pool.map(partial(_search_part, engine, task, starts, value), frames))
            spent += max(f.effort for f in found) + BUILD_EFFORT * len(starts)
            parts.learn(found)
            better = [f for f in found if f.starts is not None and f.value < value]
            if better:
                best = min(better, key=lambda f: f.value)
                assert best.starts is not None
                starts, value = best.starts, int(best.value)
                task.tell(engine, value, task.least)
    return starts


def _search_part(engine: Engine, task: Task, hint: dict[str, int], value: int, frame: TimeWindows) -> SearchResult:
    search = build(frame, task.order)
    aim = express(search, task.goal, task.kept)
    search.model.add(aim <= value)
    search.model.minimize(aim)
    return engine.run(search, effort=PART_EFFORT, hint=hint)


class _Parts:
    """Draws the parts of a plan to search next, larger after proofs and smaller after none."""

    def __init__(self, task: Task, rng: Random) -> None:
        self._task, self._rng = task, rng
        self._count = 3.0
        self._groups = groups_of(task.frame.network)

    def learn(self, found: list[SearchResult]) -> None:
        """Change the size of parts by how the last ones ended."""
        for f in found:
            self._count = min(self._count * 1.15, LARGEST) if f.proved else max(self._count * 0.85, SMALLEST)

    def draw(self, starts: Mapping[str, int], count: int) -> Iterator[TimeWindows]:
        """Yield so many frames in which a part of the plan is free."""
        for _ in range(count if self._groups else 0):
            yield self._loosened(starts, self._free(starts), self._rng.choice(LOOSENESS))

    def _free(self, starts: Mapping[str, int]) -> set[str]:
        """Return what is free in the next part: half the parts are a window of time, half are groups side by side.

        With groups next to each other in time instead, the street's open trench came to 6,900 ft nights in 24 s,
        with these to 6,290 in 20 s: mean of three chance numbers, without margin, from 8,945 in the plan that is
        looked at for its finish alone, 16 units of effort.
        """
        free = self._side_by_side(starts) if self._rng.random() < 0.5 else set[str]()
        return free if 0 < len(free) < len(starts) else self._window(starts)

    def _window(self, starts: Mapping[str, int]) -> set[str]:
        """Return activities that start one after the other, as many as the groups of a part hold on average.

        At most half of all: a part in which nothing is held would be the same search again and again.
        """
        by_time = sorted(starts, key=lambda a: (starts[a], a))
        size = max(1, min(round(self._count * len(by_time) / len(self._groups)), len(by_time) // 2))
        first = self._rng.randrange(len(by_time) - size + 1)
        return set(by_time[first : first + size])

    def _side_by_side(self, starts: Mapping[str, int]) -> set[str]:
        """Return a group and others whose work goes on between its first start and its last."""
        chosen = self._rng.choice(self._groups)
        first, last = min(starts[a] for a in chosen), max(starts[a] for a in chosen)
        others = [
            group
            for group in self._groups
            if group is not chosen and any(starts[a] <= last for a in group) and any(first <= starts[a] for a in group)
        ]
        size = min(round(self._count) - 1, len(others))
        return {a for group in (chosen, *self._rng.sample(others, size)) for a in group}

    def _loosened(self, starts: Mapping[str, int], free: set[str], loose: int) -> TimeWindows:
        """Return the frame with all but `free` held where it is, or nearly, near the free part."""
        first = min(starts[a] for a in free)
        last = max(starts[a] + int(self._task.frame.spans[a].sizes[-1]) for a in free)
        held = dict(self._task.frame.spans)
        for activity, spans in self._task.frame.spans.items():
            if activity not in free:
                move = loose if first - loose <= starts[activity] <= last + loose else 0
                held[activity] = spans.between(starts[activity] - move, starts[activity] + move)
        part = self._task.frame.part(held)
        part.narrow()
        return part


def groups_of(network: Network) -> list[list[str]]:
    """Return activities in groups that make sense to move together: by reach where there are reaches."""
    groups: dict[str, list[str]] = {}
    for activity in network.activities:
        groups.setdefault(activity.reach, []).append(activity.id)
    loose = groups.pop("", [])
    return [*groups.values(), *(loose[i : i + 12] for i in range(0, len(loose), 12))]


def better(engine: Engine, task: Task, starts: dict[str, int], effort: float) -> tuple[dict[str, int], int]:
    """Better a plan within an effort; return it, and the proved least amount of its goal."""
    value = task.amount(starts)
    if value <= task.least or effort <= 0 or engine.stopped:
        return starts, task.least
    if not is_small(task.frame.network):
        return search_parts(engine, task, starts, effort), task.least
    return search_whole(engine, task, starts, effort)


def is_small(network: Network) -> bool:
    """Say whether a job is searched whole."""
    return len(network.activities) <= WHOLE
