"""Ways out of a conflict: the least changes that make a plan possible, each proved by a plan."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from scheduler.audit import audit
from scheduler.explain.changes import change
from scheduler.explain.conflicts import RuleConflict
from scheduler.explain.possible import Ask, Care, Change
from scheduler.explain.rules import Rule
from scheduler.network.model import Network
from scheduler.schedule import Schedule

PAIRS_AT_MOST = 8


@dataclass(frozen=True, slots=True)
class WayOut:
    """One or more changes that together make a plan possible.

    `schedule` keeps every rule of the changed `network` and audits clean; `cost` is what the
    changes themselves cost, None when that is not known.
    """

    changes: tuple[str, ...]
    rules: tuple[Rule, ...]
    cost: float | None
    schedule: Schedule
    network: Network

    @property
    def text(self) -> str:
        """What to do, in sentences."""
        return " ".join(self.changes)


def repairs(
    network: Network,
    conflicts: Sequence[RuleConflict],
    *,
    limit: int = 6,
    tell: Callable[[str], None] | None = None,
    stop: threading.Event | None = None,
) -> list[list[WayOut]]:
    """Return, for each conflict, its cheapest repairs, at most `limit`; those of unknown cost come last.

    A repair may have to change a rule of every conflict. Where no single change is enough,
    pairs of changes in two conflicts are tried. `tell` hears, in words, how far it is. Setting
    `stop` ends it soon, with the repairs found by then.
    """
    rules = list(dict.fromkeys(r for c in conflicts for r in c.rules))
    found: list[list[WayOut]] = [[] for _ in conflicts]
    for care in (Care.LONGER, Care.SEARCH):
        single: dict[Rule, WayOut | None] = {}
        for rule in rules:
            if tell is not None:
                tell(f"{len(single)} of {len(rules)} rules tried")
            single[rule] = _repaired(network, (rule,), care, stop)
        found = [[made for r in c.rules if (made := single[r])] for c in conflicts]
        if len(conflicts) > 1 and all(made.rules[0].kind == "target" for options in found for made in options):
            both = _pairs(network, conflicts[0], conflicts[1], care, stop)
            found = [options + both for options in found]
        if any(found):
            break
    return [sorted(options, key=_dearness)[:limit] for options in found]


def _pairs(
    network: Network, first: RuleConflict, second: RuleConflict, care: Care, stop: threading.Event | None
) -> list[WayOut]:
    """Return repairs that change one rule of each of two conflicts, the target of neither."""
    pairs = [(a, b) for a in first.rules for b in second.rules if a != b and "target" not in (a.kind, b.kind)]
    tried = sorted({frozenset(pair) for pair in pairs}, key=lambda pair: min(r.ref for r in pair))[:PAIRS_AT_MOST]
    found = (_repaired(network, sorted(pair, key=lambda r: r.ref), care, stop) for pair in tried)
    return [made for made in found if made is not None]


def _dearness(repair: WayOut) -> tuple[bool, float, int]:
    return repair.cost is None, repair.cost or 0.0, repair.schedule.finish


def _repaired(network: Network, rules: Sequence[Rule], care: Care, stop: threading.Event | None) -> WayOut | None:
    """Change some rules in turn; the last change must give a plan, those before it need only allow one."""
    made: list[Change] = []
    current = network
    for i, rule in enumerate(rules):
        step = change(current, rule, Ask(rules[i + 1 :], care, stop))
        if step is None:
            return None
        made.append(step)
        current = step.network
    schedule = made[-1].schedule
    if audit(current, schedule):
        return None
    costs = [c.cost for c in made if c.cost is not None]
    return WayOut(
        tuple(c.text for c in made), tuple(rules), sum(costs) if len(costs) == len(made) else None, schedule, current
    )
