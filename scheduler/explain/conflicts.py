"""Why no plan exists: the smallest sets of rules, named as people name them, that cannot all hold."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from scheduler.explain.families import GIVEN
from scheduler.explain.possible import OPEN, Care, PossiblePlan, possible
from scheduler.explain.rules import Rule, rules_of, told_together, without
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.solve.formulation.infeasible_core import conflict_core
from scheduler.solve.outcome import stopped

SEARCHES = 6
"""Searches spent on questions that counting and quick plans leave open; more would take too long."""

CORE_EFFORT = 20.0
"""Spent on which rules the proof of a solve needs, where counting and quick searches show none that cannot hold.

With a fifth of it none is found on the small site with 5 % margin, which a solve of 2 seconds proves impossible.
"""

PLANS = 5
"""Latest plans tried on each new question; each costs an audit, about a tenth of a new plan."""


@dataclass(frozen=True, slots=True)
class RuleConflict:
    """Rules that cannot all hold, the work going as it must.

    `minimal`: it is proved, by a plan for each, that leaving out any one of them makes the
    others possible. Otherwise some are only not shown to be superfluous.
    """

    rules: tuple[Rule, ...]
    minimal: bool


def conflicts(
    network: Network,
    *,
    limit: int = 3,
    proved: bool = False,
    tell: Callable[[str], None] | None = None,
    stop: threading.Event | None = None,
) -> list[RuleConflict]:
    """Return up to `limit` different sets of rules that cannot hold together; none when a plan exists.

    The order of the work itself, hold points and room in the trench are taken as given, unless
    they alone leave no plan. `proved` says that a solve has shown that there is no plan: then there is always a
    set, though perhaps a long one. Otherwise an empty list is also returned when nothing could be proved.
    `tell` hears, in words, how far it is. Setting `stop` ends it soon: what is found by then is
    returned, and a set that was still being made smaller is not `minimal`.
    """
    rules = rules_of(network)
    asker = _Asker(network, [r for r in rules if r.kind in GIVEN], tell, stop)
    spoken_of = [r for r in rules if r.kind not in GIVEN]
    if not asker.impossible(spoken_of, Care.SEARCH):
        return [asker.shrunk(_core(network, spoken_of or rules, stop))] if proved and rules else []
    if asker.impossible(()):
        asker = _Asker(network, [], tell, stop)
    else:
        rules = spoken_of
    found = [asker.shrunk(rules)]
    for spared in found[0].rules:
        rest = [r for r in rules if not r.records <= spared.records]
        if len(found) < limit and asker.impossible(rest):
            another = asker.shrunk(rest)
            if all(set(another.rules) != set(c.rules) for c in found):
                found.append(another)
    return found


def _core(network: Network, rules: Sequence[Rule], stop: threading.Event | None) -> Sequence[Rule]:
    """Return those of some rules that a solve's proof that there is no plan needs; all where that is not found."""
    core = {ref for ref, _ in conflict_core(network, CORE_EFFORT, stop) or ()}
    return [r for r in rules if core.intersection(record.id for record in r.records)] or rules


class _Asker:
    """Asks whether some of a network's rules can hold together with given ones, the others left out."""

    def __init__(
        self,
        network: Network,
        given: Sequence[Rule],
        tell: Callable[[str], None] | None,
        stop: threading.Event | None,
    ) -> None:
        self._network, self._tell, self._stop = network, tell, stop
        self._others = set(rules_of(network)).difference(given)
        self._answers: dict[frozenset[tuple[str, str]], tuple[PossiblePlan, Care]] = {}
        self._plans: deque[Schedule] = deque(maxlen=PLANS)
        self._searches_left = SEARCHES
        self._said = 0

    def ask(self, rules: Iterable[Rule], care: Care) -> PossiblePlan:
        """Return whether these rules can hold together with those that are given."""
        kept = set(rules)
        key = frozenset((r.kind, r.ref) for r in kept)
        if care is Care.SEARCH and self._searches_left == 0:
            care = Care.LONGER
        known, taken = self._answers.get(key, (None, Care.QUICK))
        if known is not None and (known.known or taken >= care):
            return known
        if (told := self._told_already(key)) is not None:
            return told
        if stopped(self._stop):
            return OPEN
        if care is Care.SEARCH:
            self._searches_left -= 1
        network = without(self._network, self._others - kept)
        answer = possible(network, care, self._plans, bettered=False, stop=self._stop)
        self._answers[key] = (answer, care)
        if answer.schedule is not None and answer.schedule not in self._plans:
            self._plans.appendleft(answer.schedule)
        return answer

    def _told_already(self, key: frozenset[tuple[str, str]]) -> PossiblePlan | None:
        """Return what an answer for more rules that hold, or for fewer that cannot, says about these."""
        for asked, (answer, _) in self._answers.items():
            if (answer.impossible and asked <= key) or (answer.schedule is not None and asked >= key):
                return answer
        return None

    def impossible(self, rules: Iterable[Rule], care: Care = Care.QUICK) -> bool:
        """Return whether it is proved that these rules cannot hold together."""
        return self.ask(rules, care).impossible

    def shrunk(self, rules: Sequence[Rule]) -> RuleConflict:
        """Return a smallest part of rules that cannot hold together, giving up the first of them first."""
        left = list(rules)
        size = max(1, len(left) // 2)
        while size and not stopped(self._stop):
            at = 0
            while at < len(left):
                self._say(len(left))
                fewer = left[:at] + left[at + size :]
                if self.impossible(fewer):
                    left = fewer
                else:
                    at += size
            size //= 2
        for care in (Care.LONGER, Care.SEARCH):
            for rule in tuple(left):
                self._say(len(left))
                if self.impossible((r for r in left if r != rule), care):
                    left.remove(rule)
        return RuleConflict(told_together(left), all(self._needed(rule, left) for rule in left))

    def _say(self, left: int) -> None:
        if self._tell is not None and left != self._said:
            self._said = left
            self._tell(f"{left} rules left that cannot all hold")

    def _needed(self, rule: Rule, rules: Iterable[Rule]) -> bool:
        """Return whether a plan shows that a set of rules can hold together without one of them."""
        return self.ask((r for r in rules if r != rule), Care.LONGER).schedule is not None
