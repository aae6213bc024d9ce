"""What a plan without conflicts was compared with, each kind of rule once, and what is nearest to a conflict."""

from __future__ import annotations

from collections import Counter

from scheduler.explain.families import FAMILIES, KINDS
from scheduler.explain.no_conflict import GROUPS, compared, nearest_to_conflict
from tests.pictures import bundled, picture


def test_every_kind_of_rule_is_counted_once():
    counted = Counter(kind for group in GROUPS.values() for kind in group)
    assert counted == Counter(KINDS)


def test_all_rules_of_a_site_are_counted():
    _, network, _ = bundled("orchard-lane")
    found = compared(network)
    assert sum(found.values()) == sum(len(list(family.told(network))) for family in FAMILIES.values())
    assert found["tests, looks and hold points"] >= len(network.holds)
    assert all(found.values())


def test_what_has_the_least_slack_is_nearest_and_what_moves_the_finish_is_told_elsewhere():
    plan = picture("orchard-lane").plan
    rows = [
        a.model_copy(update={"total_float_minutes": 60 * n, "moves_finish": n < 2})
        for n, a in enumerate(plan.activities)
    ]
    plan = plan.model_copy(update={"activities": rows})
    begin = min(a.start for a in rows)
    near = nearest_to_conflict(plan, begin, most=3)
    worked = [a for a in rows if a.work_minutes and not a.moves_finish]
    assert near == worked[:3]
    later = worked[len(worked) // 2].start
    assert all(a.start >= later for a in nearest_to_conflict(plan, later)), "what is past is no conflict to come"
    bare = plan.model_copy(update={"activities": [a.model_copy(update={"total_float_minutes": None}) for a in rows]})
    assert nearest_to_conflict(bare, begin) == []
