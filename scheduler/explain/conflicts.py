"""Why no plan exists: the smallest sets of rules, named as people name them, that cannot all hold."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scheduler.explain.possible import Answer, Care, possible
from scheduler.explain.rules import GIVEN, Rule, rules_of, without
from scheduler.network.model import Network


@dataclass(frozen=True, slots=True)
class Conflict:
    """Rules that cannot all hold, the work going as it must.

    `minimal`: it is proved, by a plan for each, that leaving out any one of them makes the
    others possible. Otherwise some are only not shown to be superfluous.
    """

    rules: tuple[Rule, ...]
    minimal: bool


def conflicts(network: Network, *, limit: int = 3) -> list[Conflict]:
    """Return up to `limit` different sets of rules that cannot hold together; none when a plan exists.

    The order of the work itself, hold points and room in the trench are taken as given, unless
    they alone leave no plan. An empty list is also returned when nothing could be proved.
    """
    asker = _Asker(network)
    rules = [r for r in rules_of(network) if r.kind not in GIVEN]
    if not asker.impossible(rules, Care.SEARCH):
        return []
    if asker.impossible(()):
        rules = rules_of(network)
    found = [asker.shrunk(rules)]
    for spared in found[0].rules:
        rest = [r for r in rules if r != spared]
        if len(found) < limit and asker.impossible(rest):
            another = asker.shrunk(rest)
            if all(set(another.rules) != set(c.rules) for c in found):
                found.append(another)
    return found


class _Asker:
    """Asks whether some of a network's rules can hold together, the others that may be left out left out."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._all = rules_of(network)
        self._answers: dict[frozenset[tuple[str, str]], Answer] = {}

    def ask(self, rules: Iterable[Rule], care: Care) -> Answer:
        """Return whether these rules can hold together with those that are given."""
        kept = set(rules)
        key = frozenset((r.kind, r.ref) for r in kept)
        answer = self._answers.get(key)
        if answer is None or (care > Care.QUICK and not answer.impossible and answer.schedule is None):
            given = () if any(r.kind in GIVEN for r in kept) else GIVEN
            left_out = [r for r in self._all if r not in kept and r.kind not in given]
            answer = self._answers[key] = possible(without(self._network, left_out), care)
        return answer

    def impossible(self, rules: Iterable[Rule], care: Care = Care.QUICK) -> bool:
        """Return whether it is proved that these rules cannot hold together."""
        return self.ask(rules, care).impossible

    def shrunk(self, rules: Sequence[Rule]) -> Conflict:
        """Return a smallest part of rules that cannot hold together, giving up the first of them first."""
        left = list(rules)
        size = max(1, len(left) // 2)
        while True:
            at = 0
            while at < len(left):
                fewer = left[:at] + left[at + size :]
                if self.impossible(fewer):
                    left = fewer
                else:
                    at += size
            if size == 1:
                break
            size //= 2
        for rule in tuple(left):
            if self.impossible((r for r in left if r != rule), Care.SEARCH):
                left.remove(rule)
        proved = all(self.ask((r for r in left if r != rule), Care.SEARCH).schedule is not None for rule in left)
        return Conflict(tuple(left), proved)
