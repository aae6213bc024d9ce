"""When a stretch may be covered at the earliest, by hand: bookings, delays, hours too short, work not reported.

On the same bundled small site as the tests of hold points, whose helpers are used; see there for its dates.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from scheduler.ledger.covered_early import covered_unreleased
from scheduler.ledger.events import (
    Delayed,
    Finished,
    Started,
    VisitBooked,
    VisitCancelled,
    VisitConfirmed,
)
from scheduler.ledger.ground_events import CoverReported
from scheduler.ledger.hold_standing import HoldStatus
from scheduler.ledger.holds import HoldPoint, hold_point
from scheduler.ledger.rights import names, releasers
from scheduler.network.model import Hold
from scheduler.schedule import Schedule
from tests.unit.test_ledger_holds import (
    ALL_RELEASED,
    CONDUIT,
    ROW,
    SHADING,
    WATER,
    Said,
    ask,
    at,
    case,
    failed,
    known,
    passed,
    reasons,
    released,
)

WATER_IS_OPEN = ALL_RELEASED[1:]
BOOKED = VisitBooked(visit="v", of="water-test", start=at(10, 11))


@pytest.mark.parametrize(
    ("not_before", "earliest"),
    [(at(10, 10), at(10, 11, 30)), (at(10, 11), at(10, 11, 30)), (at(10, 11, 1), at(10, 11, 45))],
)
def test_a_booking_holds_unless_a_delay_goes_beyond_its_start(not_before, earliest) -> None:
    late = Delayed(who="Trades inspection", not_before=not_before, about=(f"look/{WATER}",))
    assert reasons(ask(known(*WATER_IS_OPEN, BOOKED, late), at(11, 10), asked=at(9, 10))) == {WATER: earliest}


def test_a_booking_called_off_counts_no_more_and_a_confirmed_one_as_before() -> None:
    def earliest(*more):
        return reasons(ask(known(*WATER_IS_OPEN, BOOKED, *more), at(11, 10), asked=at(9, 10)))[WATER]

    assert earliest() == at(10, 11, 30)
    assert earliest(VisitConfirmed(visit="v")) == at(10, 11, 30)
    assert earliest(VisitCancelled(visit="v")) == at(10, 9, 30)  # called on Tuesday, they come on Wednesday morning
    assert earliest(VisitCancelled(visit="v"), VisitConfirmed(visit="v")) == at(10, 9, 30)
    again = VisitBooked(visit="v", of="water-test", start=at(10, 13))
    assert earliest(VisitCancelled(visit="v"), again) == at(10, 13, 30)


def test_what_failed_is_mended_and_tested_again_before_it_is_looked_at_again() -> None:
    """Failed Tuesday 8:00 with 2 hours to mend: to 10:00, the test of an hour to 11:00, held for two to 13:00."""
    fails = failed(WATER, at(9, 8)).model_copy(update={"repair_hours": 2.0})
    soon = VisitBooked(visit="v", of="water-test", start=at(9, 12, 45))
    later = VisitBooked(visit="w", of="water-test", start=at(9, 13))
    answer = ask(known(*WATER_IS_OPEN, fails, soon, later), at(11, 10), asked=at(9, 8))
    (told,) = [r.text for r in answer.reasons if "Water line under pressure" in r.text]
    assert "it must be fixed, Pressure test of Water line, Main drive trench 0+84 to 1+60 made again and looked" in told
    assert reasons(answer)[WATER] == at(9, 13, 30)


def test_of_two_bookings_the_earlier_counts_whichever_was_made_first() -> None:
    later = VisitBooked(visit="w", of="water-test", start=at(12, 11))
    for booked in ((BOOKED, later), (later, BOOKED)):
        assert reasons(ask(known(*WATER_IS_OPEN, *booked), at(11, 10), asked=at(9, 10))) == {WATER: at(10, 11, 30)}


@pytest.mark.parametrize(
    ("not_before", "earliest"),
    [
        (at(11, 11, 30), at(11, 12)),  # the building department looks to 12:00 on Thursday: just enough
        (at(11, 11, 31), at(16, 8, 30)),  # from the next quarter of an hour on too little is left, so on Tuesday
        (at(11, 8, 46), at(11, 9, 30)),  # a look begins on a quarter of an hour
    ],
)
def test_a_look_is_made_where_the_hours_left_hold_all_of_it(not_before, earliest) -> None:
    late = Delayed(who="Building department", not_before=not_before, about=(f"look/{SHADING}",))
    assert reasons(ask(known(*ALL_RELEASED[:2], late), at(10, 12))) == {SHADING: earliest}


def test_the_plan_says_when_work_that_is_not_reported_will_be_done() -> None:
    network, work = case().network, "orchard-row/L1/lay-service"
    clock = network.clock
    span = clock.tick(at(9, 13)), clock.tick(at(9, 15))
    state = known(laid=False)
    for asked, earliest in ((at(9, 10), at(9, 15)), (at(9, 16), at(9, 16))):
        assert reasons(ask(state, asked, schedule=Schedule({work: span})))[work] == earliest
    assert reasons(ask(state, at(9, 10)))[work] is None


def test_work_reported_for_later_is_not_done_yet() -> None:
    done = Finished(activity="orchard-row/L1/lay-service", when=at(9, 11))
    assert done.activity in reasons(ask(known(done, laid=False), at(9, 10, 59)))
    assert done.activity not in reasons(ask(known(done, laid=False), at(9, 11)))


def test_the_look_at_the_shading_vouches_for_the_line_that_it_saw_and_for_nothing_else() -> None:
    unseen = {f"orchard-row/{w}" for w in ("L0/lay-water", "L0/test-water", "L1/lay-gate-feeder", "L1/lay-telephone")}
    unseen.add("line/water/joint-main-84")  # no test takes it in
    unseen.add("pole-hedge/L0/lay-service")  # beyond the corner, where nobody looked
    assert set(reasons(ask(known(ALL_RELEASED[2], laid=False), at(11, 10)))) == {CONDUIT, WATER, *unseen}


def test_a_pass_that_waits_for_its_release_can_be_cleared_now() -> None:
    answer = ask(known(passed(WATER, when=at(10, 9, 30)), *WATER_IS_OPEN), at(11, 10))
    assert reasons(answer) == {WATER: at(11, 10)}
    assert answer.may_be_by_then
    assert not answer.yes


def test_work_over_a_hold_is_reckoned_from_the_next_quarter_of_an_hour() -> None:
    """The conduits are passed at 9:37 and not released; the shading waits, its look comes after it."""
    state = known(ALL_RELEASED[0], passed(CONDUIT, when=at(10, 9, 37)))
    on_time, late = (reasons(ask(state, at(11, 8), asked=asked)) for asked in (at(10, 9, 45), at(10, 9, 46)))
    assert on_time[CONDUIT] == at(10, 9, 45)
    assert late[CONDUIT] == at(10, 9, 46)
    assert on_time[SHADING] == late[SHADING] == at(11, 8, 30)


def test_every_gate_of_a_hold_is_looked_at_for_cover() -> None:
    network = case().network
    hold = next(h for h in network.holds if len(h.gates) > 1)
    (look,) = {hold.look}
    for gate in hold.gates:
        found = covered_unreleased(case().site, network, known(Started(activity=gate, when=at(9, 9))), at(20, 10))
        hides = network.by_id[gate].kind.hides
        assert any(hold.name in f.text for f in found) == hides, (look, gate)


@pytest.mark.parametrize(("minutes", "flagged"), [(-1, False), (0, False), (1, True)])
def test_cover_at_the_moment_of_release_is_cover_after_it(minutes: int, flagged: bool) -> None:
    covered = CoverReported(alignment="main", from_ft=84, to_ft=120, when=at(11, 9))
    given = [*ALL_RELEASED[:2], released(SHADING, "i-haas", at(11, 9) + timedelta(minutes=minutes))]
    found = covered_unreleased(case().site, case().network, known(covered, *given), at(11, 9))
    assert bool(found) is flagged
    assert ROW.alignment == covered.alignment


# ---- the hold points behind the answer ---------------------------------------------------------------------------


def hold_of(id_: str) -> Hold:
    return next(h for h in case().network.holds if h.id == f"hold/{id_}")


def ids(released_by: str | None, look: str = CONDUIT) -> list[str]:
    return [p.id for p in releasers(case().site, case().network, replace(hold_of(look), released_by=released_by))]


def test_who_may_release_is_the_named_person_with_deputies_or_everybody_of_the_named_firm() -> None:
    assert ids("c-dunn") == ["c-dunn", "b-ito"]
    assert ids("b-ito") == ["b-ito"]
    assert ids("Sorrel County Trades Inspection") == ["c-dunn", "b-ito"]
    assert ids("Sorrel Valley Telephone") == []  # it is not their inspection
    assert ids("Sorrel Valley Telephone", "loose-at-pole") == ["n-cole"]
    assert ids("nobody") == []
    assert ids(None) == ["c-dunn", "b-ito"]  # the authority's own people
    assert ids(None, "loose-at-pole") == ["s-wirth", "a-lund"]  # those who do the work that it waits for


def test_people_are_named_with_the_firm_of_the_first() -> None:
    dunn, ito, haas = (next(p for p in case().site.people if p.id == i) for i in ("c-dunn", "b-ito", "i-haas"))
    own = dunn.model_copy(update={"of": ""})
    assert names([]) == "nobody named"
    assert names([dunn]) == "Carol Dunn (Sorrel County Trades Inspection)"
    assert names([own]) == "Carol Dunn"
    assert names([dunn, ito, haas]) == "Carol Dunn (Sorrel County Trades Inspection), or Ben Ito, or Ingrid Haas"
    assert names([own, ito]) == "Carol Dunn, or Ben Ito"
    assert names([haas, own]) == "Ingrid Haas (Sorrel County Building Department), or Carol Dunn"


def point(id_: str, moment: datetime, *happened: Said) -> HoldPoint:
    return hold_point(case().site, case().network, known(*happened), hold_of(id_), moment)


def test_what_others_do_counts_from_the_moment_it_is_done() -> None:
    tied = Finished(activity="outside/tie-in", when=at(18, 13))
    assert point("loose-at-pole", at(18, 13), tied).status is HoldStatus.PASSED
    assert point("loose-at-pole", at(18, 12, 59), tied).status is HoldStatus.WAITING


def test_a_pass_lapses_for_cover_that_begins_after_it_but_not_for_cover_that_has_begun() -> None:
    passed_on = passed(CONDUIT, when=at(10, 10))
    shade = Started(activity="orchard-row/L1/shade", when=at(24, 10))
    assert point(CONDUIT, at(24, 9, 59), passed_on, ALL_RELEASED[1], shade).good_until == at(24, 11)
    assert point(CONDUIT, at(24, 10), passed_on, ALL_RELEASED[1], shade).good_until is None
    assert point(CONDUIT, at(31, 10), passed_on, ALL_RELEASED[1], shade).status is HoldStatus.RELEASED
    assert point(CONDUIT, at(24, 11), passed_on, ALL_RELEASED[1]).status is HoldStatus.RELEASED
    assert point(CONDUIT, at(24, 11, 1), passed_on, ALL_RELEASED[1]).status is HoldStatus.LAPSED


def test_trench_stands_open_from_the_start_of_its_dig_to_the_finish_of_its_fill() -> None:
    filled = Finished(activity="orchard-row/lifts", when=at(12, 16))
    since = [point(CONDUIT, moment, filled).open_since for moment in (at(5, 7, 59), at(5, 8), at(12, 15), at(12, 16))]
    assert since == [None, at(5, 8), at(5, 8), None]
    next_reach = Started(activity="lane-verge/dig", when=at(4, 8))
    assert point(CONDUIT, at(9, 8), next_reach).open_since == at(5, 8)
    branch = Started(activity="pole-hedge/dig", when=at(4, 8))
    assert point("conduit-look/pole-hedge/L0", at(9, 8), branch).open_since == at(4, 8)


def test_a_failed_look_takes_back_the_release_before_it_and_a_pass_after_it_needs_one_anew() -> None:
    given, fails = ALL_RELEASED[1], failed(CONDUIT, at(11, 10))
    again = passed(CONDUIT, when=at(12, 10))
    assert point(CONDUIT, at(11, 9, 59), given, fails).status is HoldStatus.RELEASED
    assert point(CONDUIT, at(11, 10), given, fails).status is HoldStatus.FAILED
    assert point(CONDUIT, at(12, 10), given, fails, again).status is HoldStatus.PASSED
    anew = released(CONDUIT, "c-dunn", at(12, 11))
    assert point(CONDUIT, at(12, 11), given, fails, again, anew).status is HoldStatus.RELEASED
    at_once = released(CONDUIT, "c-dunn", at(11, 10))
    assert point(CONDUIT, at(11, 10), fails, at_once).status is HoldStatus.FAILED  # nobody has looked again


def test_a_witness_is_waited_for_until_the_appointment_is_over() -> None:
    network = replace(
        case().network,
        holds=tuple(replace(h, kind="witness") if h.id == f"hold/{WATER}" else h for h in case().network.holds),
    )
    hold = next(h for h in network.holds if h.id == f"hold/{WATER}")

    def status(moment: datetime, *booked: Said) -> HoldStatus:
        return hold_point(case().site, network, known(*booked), hold, moment).status

    assert status(at(10, 11, 29), BOOKED) is HoldStatus.WAITING
    assert status(at(10, 11, 30), BOOKED) is HoldStatus.UNATTENDED
    longer = VisitBooked(visit="v", of="water-test", start=at(10, 11), until=at(10, 12))
    assert status(at(10, 11, 59), longer) is HoldStatus.WAITING
    assert status(at(10, 12), longer) is HoldStatus.UNATTENDED
    others = VisitBooked(visit="v", of="water-test", looks=("look/water-test/lane-verge/L0",), start=at(10, 11))
    assert status(at(10, 12), others) is HoldStatus.WAITING
    theirs = VisitBooked(visit="v", of="nobody", looks=(f"look/{WATER}",), start=at(10, 11))
    assert status(at(10, 12), theirs) is HoldStatus.UNATTENDED
    assert status(at(10, 12), VisitBooked(visit="v", of="conduit-look", start=at(10, 11))) is HoldStatus.WAITING
