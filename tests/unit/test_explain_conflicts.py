"""Impossible variants of the bundled (invented) sites, each with a cause put there on purpose."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from functools import lru_cache
from importlib import import_module
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

import scenarios
from scheduler.audit import audit
from scheduler.explain.conflicts import RuleConflict, conflicts
from scheduler.explain.families import GIVEN
from scheduler.explain.possible import Care, PossiblePlan, possible
from scheduler.explain.repairs import WayOut, repairs
from scheduler.explain.rules import Rule, rules_of, told_together, without
from scheduler.network.derive import derive
from scheduler.network.model import Booking, DateRule, Link, Network, Target
from scheduler.network.tested_together import LineSections
from scheduler.site.files import load_site
from scheduler.solve.outcome import Status
from scheduler.solve.run import solve
from scheduler.worktime.calendar import Calendar

SMALL, STREET = "orchard-lane", "lantern-street"


@lru_cache
def site(name: str) -> Network:
    """Return the network of a bundled site, its pipes tested reach by reach: more can be moved to make room.

    The checks of the joints between reaches are left out: they would tie the reaches to each other again.
    """
    written = load_site(Path(scenarios.__file__).parent / f"{name}.yaml")
    tests = [line.test and line.test.model_copy(update={"over": "reach"}) for line in written.lines]
    lines = [line.model_copy(update={"test": test}) for line, test in zip(written.lines, tests, strict=True)]
    with patch.object(LineSections, "untested", ()):
        return derive(written.model_copy(update={"lines": lines}))


def hours(network: Network, calendar: str, windows: tuple[tuple[int, int], ...]) -> Network:
    kept = network.calendars[calendar]
    return replace(network, calendars={**network.calendars, calendar: Calendar(kept.id, kept.name, windows)})


def until(network: Network, calendar: str, last: date) -> Network:
    """Return a network in which some hours end with a day."""
    tick = network.clock.midnight(last)
    return hours(network, calendar, tuple(w for w in network.calendars[calendar].windows if w[1] <= tick))


def finished_by(network: Network, when: datetime) -> Network:
    return replace(network, target=Target("target", network.clock.tick(when), f"Done by {when:%d %b %H:%M}."))


def booked(network: Network, id_: str, activity: str, when: datetime) -> Network:
    at = network.clock.tick(when)
    kept = tuple(b for b in network.bookings if activity not in b.activities)
    name = network.by_id[activity].name
    because = f"{name} is booked for {network.clock.spoken(at)}."
    return replace(
        network,
        bookings=(*kept, Booking(id_, name, (activity,), at, at + 1, firm=True, move_cost=100, because=because)),
    )


def short_ticket(network: Network, *, hours: float) -> Network:
    ticket = network.tickets[0]
    brief = replace(ticket, expiry=ticket.clear + network.clock.ticks(hours=hours), renewals=())
    return replace(network, tickets=(brief, *network.tickets[1:]))


def open_at_most(network: Network, feet: int) -> Network:
    return replace(network, open_limits=tuple(replace(o, capacity=feet) for o in network.open_limits))


def seen_at_most(network: Network, rule: str, feet: float) -> Network:
    rules = tuple(replace(v, max_ft=feet) if v.id == rule else v for v in network.visit_rules)
    return replace(network, visit_rules=rules)


def short_pass_in_the_evening(network: Network) -> Network:
    evenings = tuple((b + 4, b + 8) for _, b in network.calendars["site-hours"].windows)
    links = tuple(replace(k, lag=8) if k.at_most else k for k in network.links)
    return hours(replace(network, links=links), "trades-visits", evenings)


def two_crews_needed(network: Network) -> Network:
    activities = tuple(
        replace(a, needs=tuple((r, 2 if r == "crew/electrician" else n) for r, n in a.needs)) if "pull-1" in a.id else a
        for a in network.activities
    )
    return replace(network, activities=activities)


def first_dig_by(network: Network, when: datetime) -> Network:
    rule = DateRule("promise", "lane-verge/lifts", network.clock.tick(when), "finish", "max", "The verge was promised.")
    return replace(network, dates=(*network.dates, rule))


def noon(month: int, day: int, hour: int = 12) -> datetime:
    return datetime(2027, month, day, hour)


VARIANTS: dict[str, tuple[str, Callable[[Network], Network], set[str]]] = {
    "target a day too early": (SMALL, lambda n: finished_by(n, noon(3, 22, 14)), {"target"}),
    "target far too early": (SMALL, lambda n: finished_by(n, noon(3, 8)), {"target"}),
    "an inspector who never comes": (SMALL, lambda n: hours(n, "building-mornings", ()), {"building-mornings"}),
    "an electrician who leaves": (
        SMALL,
        lambda n: until(n, "electrician-hours", date(2027, 3, 3)),
        {"electrician-hours"},
    ),
    "outages end too soon": (
        SMALL,
        lambda n: until(n, "outage-hours&electrician-hours", date(2027, 3, 12)),
        {"outage-hours&electrician-hours"},
    ),
    "tie-in booked before the pole": (
        SMALL,
        lambda n: booked(
            booked(n, "pole", "outside/set-pole", noon(3, 17, 8)), "tie", "outside/tie-in", noon(3, 15, 8)
        ),
        {"pole", "tie"},
    ),
    "booked inside the notice": (SMALL, lambda n: booked(n, "pole", "outside/set-pole", noon(3, 3, 8)), {"pole"}),
    "a ticket that is not renewed": (SMALL, lambda n: short_ticket(n, hours=4), {"ticket/expiry"}),
    "less open than one reach": (SMALL, lambda n: open_at_most(n, 50), {"open-trench"}),
    "a look too long for a visit": (SMALL, lambda n: seen_at_most(n, "conduit-look", 40.0), {"conduit-look"}),
    "a pass that goes stale overnight": (SMALL, short_pass_in_the_evening, {"pass"}),
    "two crews needed, one there": (SMALL, two_crews_needed, {"crew/electrician"}),
    "a promise too early": (SMALL, lambda n: first_dig_by(n, noon(3, 3)), {"promise"}),
    "street: target too early": (STREET, lambda n: finished_by(n, noon(6, 10)), {"target"}),
    "street: an inspector who never comes": (STREET, lambda n: hours(n, "gas-inspector", ()), {"gas-inspector"}),
    "street: main tapped before it is laid": (
        STREET,
        lambda n: booked(n, "tap", "outside/water-tap", noon(5, 11, 9)),
        {"tap"},
    ),
    "street: a ticket that is not renewed": (STREET, lambda n: short_ticket(n, hours=4), {"street-ticket/expiry"}),
}


@lru_cache
def case(name: str) -> tuple[Network, list[RuleConflict]]:
    site_name, spoil, _ = VARIANTS[name]
    network = spoil(site(site_name))
    return network, conflicts(network)


@lru_cache
def ways_out(name: str) -> list[list[WayOut]]:
    return repairs(*case(name))


def named(conflict: RuleConflict) -> set[str]:
    return {r.kind if r.kind == "pass" else r.ref for r in conflict.rules}


def without_others(network: Network, kept: set[Rule]) -> Network:
    return without(network, [r for r in rules_of(network) if r not in kept and r.kind not in GIVEN])


@pytest.mark.parametrize("name", VARIANTS)
def test_the_true_cause_is_named(name: str) -> None:
    _, found = case(name)
    assert found
    assert all(VARIANTS[name][2] <= named(c) for c in found)


@pytest.mark.parametrize("name", VARIANTS)
def test_every_member_is_needed(name: str) -> None:
    network, found = case(name)
    assert 1 <= len(found) <= 3
    for conflict in found:
        assert conflict.minimal
        members = set(conflict.rules)
        assert possible(without_others(network, members)).impossible
        for rule in conflict.rules:
            freed = without_others(network, members - {rule})
            plan = possible(freed).schedule
            assert plan is not None
            assert not audit(freed, plan)


def test_a_conflict_is_called_minimal_only_where_a_plan_without_each_rule_was_found(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    network, (proved, *_) = case("tie-in booked before the pole")

    def without_plans(*asked: Any, **how: Any) -> PossiblePlan:
        return replace(possible(*asked, **how), schedule=None)

    monkeypatch.setattr(import_module("scheduler.explain.conflicts"), "possible", without_plans)
    (found,) = conflicts(network, limit=1)
    assert proved.minimal
    assert not found.minimal
    assert set(proved.rules) <= set(found.rules)


@pytest.mark.parametrize("name", VARIANTS)
def test_every_repair_gives_a_plan_that_audits_clean(name: str) -> None:
    network, found = case(name)
    options = ways_out(name)
    assert len(options) == len(found)
    assert any(options), "no way out is offered"
    for repair in (r for each in options for r in each):
        assert not audit(repair.network, repair.schedule)
        assert audit(network, repair.schedule), "a repair of nothing"
        assert {r.kind for r in repair.rules}.isdisjoint(GIVEN)
        assert repair.text
    for each in options:
        costs = [r.cost for r in each if r.cost is not None]
        assert costs == sorted(costs)


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("target a day too early", "Have Agreed outage hours, Electrician's days on 1 more day: "),
        ("an inspector who never comes", "Have Building inspector's mornings on 3 more days: "),
        ("street: an inspector who never comes", "Have Gas utility inspector's days on 2 more days: "),
    ],
)
def test_no_more_days_are_asked_for_than_are_needed(name: str, told: str) -> None:
    assert any(way.text.startswith(told) for ways in ways_out(name) for way in ways)


@pytest.mark.parametrize("name", ["an inspector who never comes", "street: an inspector who never comes"])
def test_the_solver_names_an_inspector_without_hours(name: str) -> None:
    _, spoil, causes = VARIANTS[name]
    outcome = solve(spoil(site(VARIANTS[name][0])))
    assert outcome.status is Status.INFEASIBLE
    assert {ref for ref, _ in outcome.conflict} == causes


def test_conflicts_are_told_in_sentences_without_ids_the_easiest_to_move_first() -> None:
    _, (conflict,) = case("tie-in booked before the pole")
    assert [r.because for r in conflict.rules] == [
        "Set the new service pole is booked for Wed 17 Mar 08:00.",
        "Tie in at the new pole is booked for Mon 15 Mar 08:00.",
    ]
    _, (conflict, *_) = case("target a day too early")
    assert conflict.rules[0].kind == "target"
    assert all("/" not in r.text for ways in ways_out("target a day too early") for r in ways)


def test_what_has_a_plan_has_no_conflict() -> None:
    assert conflicts(site(SMALL)) == []


def test_a_plan_made_for_another_question_answers_only_where_it_keeps_every_rule() -> None:
    network = site(SMALL)
    plan = possible(network).schedule
    assert plan is not None
    later = replace(network, target=Target("target", plan.finish, "Done by then."))
    assert possible(later, Care.QUICK, [plan]).schedule is plan
    far_too_early = replace(network, target=Target("target", plan.finish // 4, "Done by then."))
    assert possible(far_too_early, Care.QUICK, [plan]).impossible
    waits = next(a.id for a in network.activities if a.kind == "dig")
    held = DateRule("held", waits, plan.dates[waits][0] + 1, because="Not before.")
    other = possible(replace(network, dates=(*network.dates, held)), Care.QUICK, [plan]).schedule
    assert other is not None
    assert other is not plan


def test_a_circle_of_given_work_is_blamed_on_it_by_reach() -> None:
    network = site(SMALL)
    first, last = "workshop-yard/dig", "workshop-yard/lifts"
    waits = Link("circle", last, first, because="Filled before it is dug.")
    (conflict,) = conflicts(replace(network, links=(*network.links, waits)), limit=1)
    assert {r.kind for r in conflict.rules} <= set(GIVEN)
    assert {r.reach for r in conflict.rules} == {"workshop-yard"}


def test_one_rule_in_several_reaches_is_told_once() -> None:
    spaces = [r for r in rules_of(site(SMALL)) if r.kind == "space" and r.reach]
    (told,) = told_together(spaces)
    assert len(spaces) > 2
    assert told.records == frozenset().union(*(r.records for r in spaces))
    assert all(r.reach in told.because for r in spaces)
