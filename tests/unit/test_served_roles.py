"""Who may write what when everybody is known: every role against every event, and by whom."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest
from pydantic import ValidationError

import scheduler
from app.served.served_roles import MAY_WRITE, SAYS_WHO, refusal
from scheduler import bundled_sites
from scheduler.ledger import BY_NAME, HoldReleased, Refused
from scheduler.ledger.call_events import Called
from scheduler.ledger.events import Delayed, Started
from scheduler.site import Person

CASE = scheduler.load(bundled_sites()["orchard-lane"])
ROLES = ("general_contractor", "project_manager", "competent_person", "trade", "inspector", "utility", "customer")
NOON = datetime(2027, 3, 10, 19, tzinfo=UTC)
CLEARS = {
    "inspection_passed": {"inspector", "utility"},
    "inspection_passed_with_conditions": {"inspector", "utility"},
    "pass_stands": {"inspector", "utility"},
    "hold_released": {"inspector", "utility"},
    "trench_inspected": {"general_contractor", "competent_person"},
    "stop_work_lifted": {"general_contractor", "competent_person"},
    "plan_accepted": {"general_contractor", "project_manager"},
    "taken_over": {"general_contractor"},
    "cover_reported": {"general_contractor", "competent_person"},
}
"""By hand: who alone may say what lets others go on."""


def person(role: str, at: int = 0) -> Person:
    return [p for p in CASE.site.people if p.role == role][at]


def said(name: str, by: Person) -> SimpleNamespace:
    """An event of a kind as far as rights are concerned, about whoever writes it."""
    called = {"of": next(iter(parties_of(by)), "plumber"), "answer": "agreed"} if name == "called" else {}
    return SimpleNamespace(name=name, inspector=by.id, person=by.id, who=by.id, about=(), **called)


def parties_of(by: Person) -> list[str]:
    """The trades, inspections and outside work of somebody's firm, by hand from the site file."""
    return {
        "Ruiz Electrical": ["electrician", "cutover"],
        "Bell Plumbing": ["plumber"],
        "Sorrel County Trades Inspection": ["conduit-look", "water-test"],
        "Sorrel County Building Department": ["shading-look", "final-look"],
        "Sorrel Valley Power": ["set-pole", "tie-in", "set-meter", "energise", "remove-old"],
        "Sorrel Valley Telephone": ["phone-on"],
    }.get(by.of, [])


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("name", [*BY_NAME, "not an event"])
def test_every_role_against_every_event(role: str, name: str) -> None:
    by = person(role)
    if name in ("hold_released", "refused"):  # told apart by their class, below
        allowed = name in MAY_WRITE[role]
    else:
        allowed = refusal(CASE, by, said(name, by), second_act=True) == ""  # type: ignore[arg-type]
    assert allowed == (name in MAY_WRITE[role])
    if name in CLEARS:
        assert allowed == (role in CLEARS[name])
    if role == "customer" or name == "not an event":
        assert not allowed


def test_every_role_of_a_site_file_stands_in_the_table_with_events_that_there_are() -> None:
    assert set(MAY_WRITE) == set(ROLES)
    assert set().union(*MAY_WRITE.values()) <= set(BY_NAME)
    with pytest.raises(ValidationError):
        Person.model_validate({"id": "x", "name": "X", "role": "somebody_else"})


@pytest.mark.parametrize("name", SAYS_WHO)
@pytest.mark.parametrize("role", ROLES)
def test_nobody_clears_the_way_in_the_name_of_another(name: str, role: str) -> None:
    other = SimpleNamespace(name=name, inspector="i-haas", person="i-haas", who="l-fenn", about=())
    by = person(role) if role != "inspector" else person(role, 2)
    assert refusal(CASE, by, other, second_act=True)  # type: ignore[arg-type]


@pytest.mark.parametrize("role", ROLES)
def test_a_release_needs_the_second_act(role: str) -> None:
    by = person(role)
    body = {"hold": CASE.network.holds[0].id, "person": by.id, "role": role, "evidence": "Seen.", "when": NOON}
    release = HoldReleased(**body)
    assert refusal(CASE, by, release)
    assert (refusal(CASE, by, release, second_act=True) == "") == (role in CLEARS["hold_released"])
    tried = Refused(asked="hold_released", about="h", who=by.id, reason="Not theirs.")
    assert (refusal(CASE, by, tried) == "") == (role in CLEARS["hold_released"])
    assert refusal(CASE, by, tried.model_copy(update={"who": "somebody"}))


def test_a_trade_reports_its_own_work_only() -> None:
    for at in (0, 1):
        by = person("trade", at)
        own = {t.id for t in CASE.site.trades if t.name == by.of or t.contact == by.id}
        wrong = 0
        for work in CASE.network.activities:
            why = refusal(CASE, by, Started(activity=work.id, when=NOON))
            wrong += (why == "") != (work.trade in own)
        assert wrong == 0
        assert own
        assert refusal(CASE, by, Started(activity="no such work", when=NOON))
        assert refusal(CASE, by, Delayed(who="somebody-else", not_before=NOON))
        assert refusal(CASE, by, Delayed(who=by.id, not_before=NOON)) == ""


def test_a_utility_says_of_itself_only_that_it_comes_later() -> None:
    by = person("utility")
    assert refusal(CASE, by, Delayed(who=by.of, not_before=NOON)) == ""
    assert refusal(CASE, by, Delayed(who="Plumber", not_before=NOON))


def test_a_trade_or_authority_answers_its_own_calls_only_and_in_its_own_name() -> None:
    site = CASE.site
    every = [r.id for part in (site.trades, site.inspections, site.outside_work) for r in part]
    tried = wrong = 0
    for by in site.people:
        if by.role not in ("trade", "inspector", "utility"):
            continue
        for of in every:
            for who in {by.id, by.name, "r-amsel", ""}:
                for answer in ("agreed", "refused", "tentative", "no_answer"):
                    fields = {"told_start": NOON + timedelta(days=9), "activities": ("a",), "when": NOON}
                    event = Called(of=of, person=who, answer=answer, **fields)  # type: ignore[arg-type]
                    good = of in parties_of(by) and who in (by.id, by.name) and answer != "no_answer"
                    wrong += (refusal(CASE, by, event) == "") != good
                    tried += 1
    assert (wrong, tried > 500) == (0, True)


def test_a_role_that_is_not_known_may_nothing() -> None:
    by = person("trade").model_copy(update={"role": "owner"})
    assert all(refusal(CASE, by, said(name, by), second_act=True) for name in BY_NAME)  # type: ignore[arg-type]
