"""The rules of a network as people name them, and the network without some of them.

Records that say the same thing are one rule: all waits of one crew's notice, all passes of one
validity, the order of work in one reach.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from scheduler.explain.families import FAMILIES, KINDS, RecordRef
from scheduler.network.model import Network


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule that a person can name, and the records of the network that it stands for.

    `kind` is one of KINDS. `reach` is set where the same rule stands for each reach.
    """

    ref: str
    kind: str
    because: str
    records: frozenset[RecordRef]
    reach: str = ""

    @property
    def record(self) -> RecordRef:
        """The record it stands for, the first when there are several."""
        return min(self.records, key=lambda record: record.id)


def rules_of(network: Network) -> list[Rule]:
    """Return every rule of a network that can be left out of it, in the order of KINDS; the past is no rule."""
    found: dict[tuple[str, str, str], tuple[str, set[RecordRef]]] = {}
    for family in FAMILIES.values():
        for told in family.told(network):
            found.setdefault((told.kind, told.because, told.reach), (told.ref, set()))[1].add(told.record)
    rules = [
        Rule(ref, kind, because, frozenset(records), reach) for (kind, because, reach), (ref, records) in found.items()
    ]
    return sorted(rules, key=lambda r: (KINDS.index(r.kind), r.ref))


def without(network: Network, rules: Iterable[Rule]) -> Network:
    """Return a network without some of its rules.

    Work keeps its length. Hours left out become all hours.
    """
    gone = frozenset(record for rule in rules for record in rule.records)
    if not gone:
        return network
    touched = {record.family for record in gone}
    touched |= {"visit_rules"} if "calendars" in touched else set()
    return replace(network, **{field: FAMILIES[field].without(network, gone) for field in touched})


def told_together(rules: Iterable[Rule]) -> tuple[Rule, ...]:
    """Return rules as one tells them: the easiest to talk about first, what stands for several reaches as one."""
    alike: dict[tuple[str, str], list[Rule]] = {}
    for rule in sorted(rules, key=lambda r: -KINDS.index(r.kind)):
        alike.setdefault((rule.kind, "" if rule.reach else rule.ref), []).append(rule)
    return tuple(group[0] if len(group) == 1 else _joined(group) for group in alike.values())


def _joined(group: Sequence[Rule]) -> Rule:
    reaches = ", ".join(sorted(r.reach for r in group))
    records = frozenset().union(*(r.records for r in group))
    return Rule(group[0].ref, group[0].kind, f"{group[0].because} The same in: {reaches}.", records, reaches)
