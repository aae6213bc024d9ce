"""Rules that cannot all hold, when a network has no plan: enough of them to see why."""

from __future__ import annotations

import threading

from scheduler.network.model import Network
from scheduler.solve.formulation.constraint_model import build
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.formulation.variables import Search
from scheduler.solve.outcome import Options, stopped


def conflict_core(network: Network, limit: float, stop: threading.Event | None = None) -> list[tuple[str, str]] | None:
    """Return rules, as (ref, because), that cannot all hold; None if that isn't shown within an effort.

    The set is enough to rule out any plan; taking one out may still leave enough.
    """
    if stopped(stop):
        return None
    engine = Engine(Options(), None, stop)
    search = build(TimeWindows(network, apply_rules=False), PrecedenceOrder(network), guarded=True)
    core = _core(engine, search, list(search.guards), limit)
    if core is None:
        return None
    again = _core(engine, search, core, limit)
    kept = core if again is None else again
    return [(ref, search.because[ref]) for ref in kept]


def _core(engine: Engine, search: Search, refs: list[str], effort: float) -> list[str] | None:
    """Return a part of some rules that is impossible in itself; None if that isn't shown."""
    search.model.clear_assumptions()
    search.model.add_assumptions([search.guards[ref] for ref in refs])
    found = engine.run(search, effort=effort)
    if not found.impossible:
        return None
    by_index = {search.guards[ref].index: ref for ref in refs}
    return [by_index[i] for i in found.assumed if i in by_index]
