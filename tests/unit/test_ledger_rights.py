"""Who may look, release, and take an entry back: to the day, and down a chain of corrections."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

import scheduler
from scheduler import bundled_sites
from scheduler.ledger.corrections import contested_by, superseded
from scheduler.ledger.events import Corrected, Event, InspectionPassed, Started
from scheduler.ledger.ground_events import StopWork
from scheduler.ledger.rights import authority_of, in_office, local_day, may_look, may_release, names, releasers
from scheduler.ledger.store import Entry
from scheduler.network.model import Hold, Network
from scheduler.site.people import Person
from scheduler.site.site_record import Site

CASE = scheduler.load(bundled_sites()["orchard-lane"])
CONDUIT = "hold/conduit-look/orchard-row/L1"
TRADES = "Sorrel County Trades Inspection"
NOON = datetime(2027, 3, 10, 19, tzinfo=UTC)
"""On site it is noon on Wednesday 10 March 2027."""


def hold(id_: str = CONDUIT, network: Network = CASE.network) -> Hold:
    return next(h for h in network.holds if h.id == id_)


def with_people(*people: Person) -> Site:
    return CASE.site.model_copy(update={"people": list(people)})


def person(id_: str, **fields: object) -> Person:
    return Person.model_validate({"id": id_, "name": id_.title(), "role": "inspector", "of": TRADES, **fields})


@pytest.mark.parametrize(
    ("first", "last", "days"),
    [
        (None, None, [9, 10, 11, 12]),
        (10, None, [10, 11, 12]),
        (None, 11, [9, 10, 11]),
        (10, 11, [10, 11]),
        (11, 11, [11]),
    ],
)
def test_somebody_has_a_role_from_the_first_day_to_the_last(
    first: int | None, last: int | None, days: list[int]
) -> None:
    who = person("a", **{"from": first and date(2027, 3, first), "until": last and date(2027, 3, last)})
    assert [d for d in (9, 10, 11, 12) if in_office(who, date(2027, 3, d))] == days


def test_the_day_is_that_of_the_site() -> None:
    assert local_day(CASE.site, datetime(2027, 3, 10, 5, tzinfo=UTC)) == date(2027, 3, 9)
    assert local_day(CASE.site, datetime(2027, 3, 10, 8, tzinfo=UTC)) == date(2027, 3, 10)


def test_a_hold_is_released_by_the_person_named_and_then_by_deputies_in_the_same_role() -> None:
    site = with_people(
        person("deputy", deputy_of="c-dunn"),
        person("c-dunn"),
        person("other"),
        person("customer", deputy_of="c-dunn", role="customer"),
        person("stranger", deputy_of="c-dunn", of="Another County"),
    )
    assert hold().released_by == "c-dunn"
    assert [p.id for p in releasers(site, CASE.network, hold())] == ["c-dunn", "deputy"]
    named, deputy, other = (
        may_release(site, CASE.network, hold(), next(p for p in site.people if p.id == i))
        for i in ("c-dunn", "deputy", "other")
    )
    assert (named.yes, named.right, deputy.yes, deputy.right) == (True, "named", True, "deputy")
    assert (other.yes, other.right) == (False, "")
    assert other.because == f"Other (inspector) may not release this hold point: only C-Dunn ({TRADES}), or Deputy may."


def test_somebody_who_has_left_releases_nothing_afterwards() -> None:
    site = with_people(person("c-dunn", until=date(2027, 3, 9)), person("deputy", deputy_of="c-dunn"))
    assert [p.id for p in releasers(site, CASE.network, hold(), NOON)] == ["deputy"]
    assert [p.id for p in releasers(site, CASE.network, hold())] == ["c-dunn", "deputy"]
    assert not may_release(site, CASE.network, hold(), site.people[0], NOON).yes


def test_a_hold_that_names_nobody_is_released_by_the_authoritys_own_people() -> None:
    nobody = replace(hold(), released_by="")
    site = with_people(
        person("a"), person("b", role="utility"), person("boss", role="general_contractor"), person("c", of="Elsewhere")
    )
    assert [p.id for p in releasers(site, CASE.network, nobody)] == ["a", "b"]
    assert may_release(site, CASE.network, nobody, site.people[0]).right == "authority"
    firm = replace(hold(), released_by="Elsewhere")
    assert releasers(site, CASE.network, firm) == (), "only people of the authority release what it inspects"


def test_a_look_counts_from_the_authoritys_people_on_that_day() -> None:
    assert authority_of(CASE.site, CASE.network, hold()) == TRADES
    site = with_people(
        person("a"),
        person("gone", until=date(2027, 3, 9)),
        person("boss", role="general_contractor"),
        person("c", of="X"),
    )
    allowed = {i: may_look(site, CASE.network, hold(), i, NOON) for i in ("a", "gone", "boss", "c", "unknown")}
    assert [i for i, told in allowed.items() if told.yes] == ["a"]
    assert allowed["unknown"].because == f"unknown may not pass this: only A ({TRADES}) may."
    none = may_look(with_people(), CASE.network, hold(), "a", NOON)
    assert none.because == f"a may not pass this: nobody of {TRADES} stands under `people` in the site file."


def test_people_are_named_with_the_firm_of_the_first() -> None:
    assert names([]) == "nobody named"
    assert names([person("a").model_copy(update={"of": ""})]) == "A"
    assert names([person("a"), person("b"), person("c")]) == f"A ({TRADES}), or B, or C"


PASSED: Event = InspectionPassed(looks=("look/x",), inspector="i", when=NOON)
STARTED: Event = Started(activity="dig", when=NOON)
STOPPED: Event = StopWork(who="i", why="No shoring.", when=NOON)
Row = tuple[Event | int, str, bool]
"""An event, or the number of the entry that is taken back; who wrote it; whether as the contractor."""


def record(*rows: Row) -> list[Entry]:
    entries = []
    for number, (said, by, contractor) in enumerate(rows, 1):
        event = said
        if isinstance(said, int):
            event = Corrected(supersedes=said, reason="It was wrong.", right="contractor" if contractor else "")
        assert not isinstance(event, int)
        entries.append(Entry(number, NOON, by, event, "", ""))
    return entries


@pytest.mark.parametrize(
    ("rows", "gone", "contested"),
    [
        ([(STARTED, "Ann", False), (1, " ann ", False)], {1}, {}),
        ([(STARTED, "Ann", False), (1, "Bob", False)], set(), {1: 2}),
        ([(STARTED, "Ann", False), (1, "Bob", True)], {1}, {}),
        ([(PASSED, "Ann", False), (1, "Bob", True)], set(), {1: 2}),
        ([(STOPPED, "Ann", False), (1, "Bob", True)], set(), {1: 2}),
        ([(PASSED, "Ann", False), (1, "Ann", False)], {1}, {}),
        # A correction is taken back: what it took back counts again.
        ([(STARTED, "Ann", False), (1, "Ann", False), (2, "Ann", False)], {2}, {}),
        ([(STARTED, "Ann", False), (1, "Ann", False), (2, "Ann", False), (3, "Ann", False)], {1, 3}, {}),
        # Nor is the taking back of what an authority said the contractor's to take back.
        ([(PASSED, "Ann", False), (1, "Ann", False), (2, "Bob", True)], {1}, {2: 3}),
        ([(STARTED, "Ann", False), (1, "Ann", False), (2, "Bob", True)], {2}, {}),
        ([(PASSED, "Ann", False), (1, "Ann", False), (2, "Ann", False), (3, "Bob", True)], {2}, {3: 4}),
        # What has not been written yet, or is the correction itself, is not taken back.
        ([(2, "Ann", False), (STARTED, "Ann", False)], set(), {}),
        ([(STARTED, "Ann", False), (2, "Ann", False)], set(), {}),
        ([(STARTED, "Ann", False), (3, "Ann", False), (2, "Bob", True)], set(), {2: 3}),
    ],
)
def test_what_is_taken_back_and_by_whom(rows: list[Row], gone: set[int], contested: dict[int, int]) -> None:
    entries = record(*rows)
    for order in (entries, entries[::-1]):
        assert superseded(order) == gone
        assert contested_by(order) == contested
