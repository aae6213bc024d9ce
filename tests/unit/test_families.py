"""No family of rules is forgotten: each is lowered, audited, named, damaged in tests, and has a way out or none."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path

import pytest

import scenarios
import scheduler
from scheduler.audit import CHECKS
from scheduler.explain.changes import WAYS_OUT
from scheduler.explain.families import FAMILIES, GIVEN, KINDS, NEVER_SHORTER
from scheduler.explain.rules import rules_of, without
from scheduler.network.derive import derive
from scheduler.network.lowering import LOWERED, NO_RULE
from scheduler.network.model import Network
from scheduler.site.files import load_site
from tests.damage import DAMAGES

SITES = ("orchard-lane", "lantern-street")


def site(name: str) -> Network:
    return derive(load_site(Path(scenarios.__file__).parent / f"{name}.yaml"))


def forgotten(network: type[Network]) -> Iterator[str]:
    """Yield what is missing for the families of a network, by its fields."""
    for name in (f.name for f in fields(network) if f.name not in NO_RULE):
        if name not in LOWERED:
            yield f"{name}: no lowering in network/lowering.py"
        if not CHECKS.get(name):
            yield f"{name}: no check in audit/"
        if not DAMAGES.get(name):
            yield f"{name}: no damage in tests/damage.py"
        if name not in FAMILIES:
            yield f"{name}: no words and no ways out in explain/families.py"
            continue
        for kind in FAMILIES[name].kinds:
            if kind not in KINDS:
                yield f"{name}: its kind '{kind}' has no place among KINDS"
            if not (kind in WAYS_OUT or kind in GIVEN or kind in NEVER_SHORTER):
                yield f"{name}: nobody can agree '{kind}' away, and no reason is given"


def test_no_family_of_rules_is_forgotten():
    assert list(forgotten(Network)) == []


@dataclass(frozen=True)
class WiderNetwork(Network):
    """A network with a family that nobody knows."""

    closures: tuple[str, ...] = ()


def test_a_family_that_nobody_knows_is_told_of_everywhere():
    assert list(forgotten(WiderNetwork)) == [
        "closures: no lowering in network/lowering.py",
        "closures: no check in audit/",
        "closures: no damage in tests/damage.py",
        "closures: no words and no ways out in explain/families.py",
    ]


def test_no_registry_names_a_family_that_is_none():
    names = {f.name for f in fields(Network)}
    assert names >= {*LOWERED, *NO_RULE, *FAMILIES, *CHECKS, *DAMAGES}
    assert not LOWERED.keys() & NO_RULE.keys()


def test_every_kind_has_either_a_way_out_or_a_reason_why_there_is_none():
    assert [k for k in KINDS if (k in WAYS_OUT) == (k in GIVEN or k in NEVER_SHORTER)] == []
    assert {k for family in FAMILIES.values() for k in family.kinds} == set(KINDS)


@pytest.mark.parametrize("name", SITES)
def test_lowered_rules_and_what_is_told_of_them_name_their_family(name: str):
    network = site(name)
    for family, lowered in LOWERED.items():
        assert {rule.family for rule in lowered(network)} <= {family}
    for family, told in ((f, t) for f, known in FAMILIES.items() for t in known.told(network)):
        assert told.record.family == family
        assert told.kind in FAMILIES[family].kinds


@pytest.mark.parametrize("name", SITES)
def test_each_rule_left_out_changes_its_own_family_alone(name: str):
    network = site(name)
    for kind in KINDS:
        for rule in [r for r in rules_of(network) if r.kind == kind][:2]:
            left = without(network, [rule])
            changed = {f.name for f in fields(Network) if getattr(network, f.name) != getattr(left, f.name)}
            also = {"visit_rules"} if kind == "hours" else set()
            assert {r.family for r in rule.records} <= changed <= {r.family for r in rule.records} | also


@pytest.mark.parametrize(
    "part",
    ["solve", "measures.py", *(f"explain/{f}.py" for f in ("sequence", "driving", "floats", "possible"))],
)
def test_who_plans_and_measures_reads_no_family_but_the_target(part: str):
    files = [top] if (top := Path(scheduler.__file__).parent / part).is_file() else sorted(top.rglob("*.py"))
    assert files
    family = re.compile(rf"(?<!scheduler\.)\b(?:network|job)\.(?:{'|'.join(LOWERED.keys() - {'target'})})\b")
    assert [(f.stem, read) for f in files for read in family.findall(f.read_text())] == []
