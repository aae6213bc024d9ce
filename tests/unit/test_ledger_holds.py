"""Hold points worked by hand on the bundled small site (its names and dates are invented).

Orchard row is the stretch 0+84 to 1+60 of the main drive trench. Three hold points lie on it: the water
test (layer 0) and the conduit look (layer 1) before shading, by C. Dunn or deputy B. Ito of trades inspection
(Monday, Wednesday, Friday 9:00-14:00), and the shading look before the ribbon, by I. Haas or deputy J. Pace of the
building department (Tuesday, Thursday 8:00-12:00). Each look takes 30 minutes and one working day's notice.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

import scheduler
from scheduler import Case, bundled_sites
from scheduler.errors import BadInput
from scheduler.ledger.cover_answer import CoverAnswer, may_cover
from scheduler.ledger.covered_early import covered_unreleased
from scheduler.ledger.covering import CoverGround
from scheduler.ledger.events import (
    Corrected,
    Delayed,
    Event,
    Finished,
    HoldReleased,
    InspectionFailed,
    InspectionPassed,
    Refused,
    Started,
    VisitBooked,
)
from scheduler.ledger.ground_events import CoverReported, UncoverReported
from scheduler.ledger.hold_standing import HoldStatus
from scheduler.ledger.holds import hold_point, hold_points
from scheduler.ledger.rights import may_release
from scheduler.ledger.state import State, fold
from scheduler.ledger.verify import verify
from scheduler.ledger.writing import write_down
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from tests.journals import new_journal, photo
from tests.records import Record
from tests.stories import by_reach

CONDUIT, WATER = "conduit-look/orchard-row/L1", "water-test/orchard-row/L0"
SHADING = "shading-look/orchard-row/L1"
ROW = CoverGround("main", 84, 160)


def at(day: int, hour: int, minute: int = 0) -> datetime:
    """Return a moment of March 2027, site time; the 1st is a Monday."""
    return datetime(2027, 3, day, hour, minute, tzinfo=ZoneInfo("America/Denver"))


@cache
def case() -> Case:
    return scheduler.load(by_reach(), path=bundled_sites()["orchard-lane"])


Said = Event | tuple[Event, ...]
"""One thing that happened, or several."""


def known(*happened: Said, laid: bool = True, forged: tuple[Event, ...] = ()) -> State:
    """Return the state after events, each written down when it happened.

    `laid`: all trench work before cover was reported on Monday the 8th. `forged` is added as it is, unchecked.
    """
    dig = "orchard-row/dig"
    before = [Started(activity=dig, when=at(5, 8)), Finished(activity=dig, when=at(5, 15))]
    work = [a.id for a in case().network.activities if laid and a.kind.needs_open_trench]
    events: list[Event] = [*before, *(Finished(activity=i, when=at(8, 12)) for i in work)]
    for said in happened:
        events += said if isinstance(said, tuple) else [said]
    dated = [
        (at(30, 8) if isinstance(e, Corrected) else max(at(8, 12), getattr(e, "when", at(8, 12))), e) for e in events
    ]
    record = Record(case().site, case().network)
    for when, event in sorted(dated, key=lambda pair: pair[0]):
        record.write(event, when)
    for event in forged:
        record.add(event, record.entries[-1].at)
    return fold(record.entries)


def passed(*looks: str, when: datetime, inspector: str = "c-dunn") -> InspectionPassed:
    return InspectionPassed(looks=tuple(f"look/{k}" for k in looks), inspector=inspector, when=when)


def failed(look: str, when: datetime) -> InspectionFailed:
    return InspectionFailed(looks=(f"look/{look}",), inspector="c-dunn", when=when, faults="A joint is dry.")


def released(hold: str, person: str, when: datetime, role: str = "inspector") -> HoldReleased:
    return HoldReleased(hold=f"hold/{hold}", person=person, role=role, evidence="Seen on site.", when=when)


def ask(state: State, moment: datetime, ground: CoverGround = ROW, **how: object) -> CoverAnswer:
    return may_cover(case().site, case().network, state, ground, moment, **how)  # type: ignore[arg-type]


def reasons(answer: CoverAnswer) -> dict[str, datetime | None]:
    return {r.ref.removeprefix("hold/"): r.earliest for r in answer.reasons}


ALL_RELEASED: tuple[tuple[Event, ...], ...] = (
    (passed(WATER, when=at(10, 9, 30)), released(WATER, "c-dunn", at(10, 9, 30))),
    (passed(CONDUIT, when=at(10, 9, 45)), released(CONDUIT, "c-dunn", at(10, 10))),
    (passed(SHADING, when=at(11, 8, 50), inspector="i-haas"), released(SHADING, "i-haas", at(11, 9))),
)


class TestMayICover:
    """Situations worked by hand."""

    def test_nobody_has_looked(self) -> None:
        answer = ask(known(), at(9, 10))  # Tuesday; a call now is good from the next visiting day
        assert not answer.yes
        assert reasons(answer) == {CONDUIT: at(10, 9, 30), WATER: at(10, 9, 30), SHADING: at(11, 8, 30)}
        assert {r.who.split(" (")[0] for r in answer.reasons} == {
            p.name for p in case().site.people if p.id in ("c-dunn", "i-haas")
        }

    def test_shading_alone_does_not_wait_for_the_look_at_the_shading(self) -> None:
        answer = ask(known(), at(9, 10), replace(ROW, only_shading=True))
        assert set(reasons(answer)) == {CONDUIT, WATER}

    def test_the_lowest_layer_waits_for_its_own_hold_only(self) -> None:
        answer = ask(known(), at(9, 10), replace(ROW, only_shading=True, layer=0))
        assert set(reasons(answer)) == {WATER}

    def test_passed_is_not_released(self) -> None:
        answer = ask(known(passed(WATER, CONDUIT, when=at(10, 9, 30)), ALL_RELEASED[2]), at(11, 10))
        assert reasons(answer) == {CONDUIT: at(11, 10), WATER: at(11, 10)}
        assert all("passed Wed 10 Mar 09:30, but not released yet" in r.text for r in answer.reasons)

    def test_everything_released(self) -> None:
        state = known(*ALL_RELEASED)
        assert ask(state, at(11, 10)).yes
        assert set(reasons(ask(state, at(11, 8, 45)))) == {SHADING}  # a quarter of an hour before the last release

    def test_work_in_the_next_reach_undoes_nothing_here(self) -> None:
        """The same lines go on beyond 1+60; laid there anew after the looks, they are as they were here."""
        beyond = [a for a in case().network.activities if a.reach == "lane-verge" and a.kind.needs_open_trench]
        here = [a for a in case().network.activities if a.reach == "orchard-row" and a.kind.needs_open_trench]
        assert {a.id.rpartition("/")[2] for a in beyond} & {a.id.rpartition("/")[2] for a in here}
        for works, yes in ((beyond, True), (here, False)):
            again = tuple(Finished(activity=a.id, when=at(11, 9, 30)) for a in works)
            assert ask(known(*ALL_RELEASED, again), at(11, 10)).yes is yes

    def test_a_deputy_releases_and_a_contractor_does_not(self) -> None:
        rest = ALL_RELEASED[1:]
        look = passed(WATER, when=at(10, 9, 30))
        assert ask(known(look, released(WATER, "b-ito", at(10, 9, 30)), *rest), at(11, 10)).yes
        forged = released(WATER, "r-amsel", at(10, 9, 30), role="general_contractor")
        assert set(reasons(ask(known(look, *rest, forged=(forged,)), at(11, 10)))) == {WATER}

    def test_failed_after_release_needs_a_new_look(self) -> None:
        answer = ask(known(*ALL_RELEASED, failed(CONDUIT, at(12, 9, 30))), at(12, 10))
        assert reasons(answer) == {CONDUIT: at(15, 9, 30)}  # Friday's call is good on Monday
        assert "failed Fri 12 Mar 09:30" in answer.reasons[0].text

    def test_a_pass_lapses_after_fourteen_days_of_24_hours(self) -> None:
        """From Wed 10 Mar 10:00 that is Wed 24 Mar 11:00, as clocks went forward on the 14th."""
        state = known(
            ALL_RELEASED[0], passed(CONDUIT, when=at(10, 10)), released(CONDUIT, "c-dunn", at(10, 10)), ALL_RELEASED[2]
        )
        assert ask(state, at(24, 10, 45)).yes
        answer = ask(state, at(24, 11, 15))
        assert reasons(answer) == {CONDUIT: at(26, 9, 30)}
        assert "good until Wed 24 Mar 11:00" in answer.reasons[0].text

    def test_a_pass_does_not_lapse_once_cover_has_begun(self) -> None:
        begun = Started(activity="orchard-row/L1/shade", when=at(10, 13))
        assert ask(known(*ALL_RELEASED, begun), at(25, 10)).yes

    def test_a_stretch_into_the_next_reach_waits_for_both(self) -> None:
        state = known(*ALL_RELEASED)
        assert ask(state, at(11, 10), CoverGround("main", 140, 160)).yes
        over = reasons(ask(state, at(11, 10), CoverGround("main", 140, 180)))
        assert set(over) == {"conduit-look/lane-verge/L1", "water-test/lane-verge/L0"}

    def test_a_loose_stretch_waits_for_its_event_and_the_utility(self) -> None:
        foot = CoverGround("pole-branch", 46, 52, only_shading=True)
        pole = "conduit-look/pole-foot/L0"
        look = (passed(pole, when=at(10, 10)), released(pole, "c-dunn", at(10, 10)))
        tied = Finished(activity="outside/tie-in", when=at(18, 13))
        assert set(reasons(ask(known(look), at(18, 14), foot))) == {"loose-at-pole"}
        done = ask(known(look, tied), at(18, 14), foot)
        assert "done, but not released" in done.reasons[0].text
        assert done.reasons[0].earliest == at(18, 14)
        let_go = released("loose-at-pole", "s-wirth", at(18, 13, 30), role="utility")
        assert ask(known(look, tied, let_go), at(18, 14), foot).yes
        at_once, too_soon = (let_go.model_copy(update={"when": t}) for t in (at(18, 13), at(18, 12, 59)))
        assert ask(known(look, tied, at_once), at(18, 14), foot).yes
        assert set(reasons(ask(known(look, tied, too_soon), at(18, 14), foot))) == {"loose-at-pole"}

    def test_a_booking_says_when_and_a_delay_moves_it(self) -> None:
        state: list[Said] = [*ALL_RELEASED[1:], VisitBooked(visit="v", of="water-test", start=at(10, 11))]
        thursday = ask(known(*state), at(11, 10), asked=at(9, 10))
        assert reasons(thursday) == {WATER: at(10, 11, 30)}
        assert thursday.may_be_by_then
        slipped = Delayed(who="Trades inspection", not_before=at(12, 12), about=(f"look/{WATER}",))
        later = ask(known(*state, slipped), at(11, 10), asked=at(9, 10))
        assert reasons(later) == {WATER: at(12, 12, 30)}
        assert not later.may_be_by_then

    def test_the_plan_says_when_where_nothing_is_booked(self) -> None:
        clock = case().network.clock
        span = (clock.tick(at(12, 9)), clock.tick(at(12, 9, 30)))
        answer = ask(known(*ALL_RELEASED[1:]), at(11, 10), asked=at(9, 10), schedule=Schedule({f"look/{WATER}": span}))
        assert reasons(answer) == {WATER: at(12, 9, 30)}

    def test_work_that_is_not_reported_is_named(self) -> None:
        answer = ask(known(laid=False), at(9, 10))
        work = {r.ref for r in answer.reasons if r.kind == "work"}
        assert work
        here = {a.id for a in case().network.activities if a.reach == "orchard-row" or not a.reach}
        assert work - here == {"pole-hedge/L0/lay-service"}, "what runs on round the corner at 1+60"
        assert not {r.ref for r in ask(known(), at(9, 10)).reasons} & work

    def test_what_an_inspector_has_released_needs_no_report(self) -> None:
        water = {"orchard-row/L0/lay-water", "orchard-row/L0/test-water"}
        assert water <= set(reasons(ask(known(laid=False), at(11, 10))))
        left = set(reasons(ask(known(ALL_RELEASED[0], laid=False), at(11, 10))))
        assert not water & left
        assert "orchard-row/L1/lay-service" in left

    def test_a_look_waits_for_the_work_that_another_look_holds(self) -> None:
        """Asked Wednesday 11:00: conduits Friday 9:30 at the earliest, shading after that, its look on Tuesday."""
        answer = ask(known(ALL_RELEASED[0]), at(10, 11))
        assert reasons(answer) == {CONDUIT: at(12, 9, 30), SHADING: at(16, 8, 30)}

    def test_a_witness_who_stays_away_stops_nobody(self) -> None:
        network = witnessed(case().network)
        state = known(*ALL_RELEASED[1:], VisitBooked(visit="v", of="water-test", start=at(10, 11)))

        def answer(moment: datetime, asked: datetime) -> bool:
            return may_cover(case().site, network, state, ROW, moment, asked=asked).yes

        assert answer(at(11, 10), at(11, 10))
        assert not answer(at(10, 11, 15), at(10, 11, 15))
        assert not answer(at(11, 10), at(9, 10))  # nobody knows on Tuesday that they will stay away

    def test_nowhere_is_not_a_yes(self) -> None:
        for ground in (CoverGround("main", 300, 320), CoverGround("elsewhere", 0, 10), replace(ROW, layer=-1)):
            with pytest.raises(BadInput, match="nowhere"):
                ask(known(), at(9, 10), ground)


def witnessed(network: Network) -> Network:
    holds = tuple(replace(h, kind="witness") if h.id == f"hold/{WATER}" else h for h in network.holds)
    return replace(network, holds=holds)


class TestWhoReleases:
    """Only the named authority, or its named deputy; everybody else is refused, and that is kept."""

    @pytest.mark.parametrize(
        ("person", "allowed"),
        [("c-dunn", True), ("b-ito", True), ("i-haas", False), ("r-amsel", False), ("s-wirth", False)],
    )
    def test_of_the_conduit_look(self, person: str, allowed: bool) -> None:
        hold = next(h for h in case().network.holds if h.id == f"hold/{CONDUIT}")
        who = next(p for p in case().site.people if p.id == person)
        verdict = may_release(case().site, case().network, hold, who)
        assert verdict.yes is allowed
        assert who.name in verdict.because

    def test_a_contractor_named_as_deputy_is_none(self) -> None:
        people = [p.model_copy(update={"deputy_of": "c-dunn"}) if p.id == "r-amsel" else p for p in case().site.people]
        site = case().site.model_copy(update={"people": people})
        hold = next(h for h in case().network.holds if h.id == f"hold/{CONDUIT}")
        boss = next(p for p in people if p.id == "r-amsel")
        assert not may_release(site, case().network, hold, boss).yes

    @pytest.mark.parametrize(
        "asked", [("r-amsel", "general_contractor"), ("r-amsel", "inspector"), ("c-dunn", "utility")]
    )
    def test_a_refusal_is_written_down(self, tmp_path: Path, asked: tuple[str, str]) -> None:
        journal = new_journal("sqlite", tmp_path)
        wanted = released(CONDUIT, asked[0], at(10, 10), role=asked[1])
        entry = write_down(journal, case().site, case().network, wanted, at=at(10, 10), by="phone")
        assert isinstance(entry.event, Refused)
        assert (entry.event.about, entry.event.who) == (f"hold/{CONDUIT}", asked[0])
        state = fold(journal.entries())
        assert state.refusals == (entry.event,)
        assert not state.releases
        assert verify(journal) == []

    def test_a_release_is_written_down_with_its_evidence(self, tmp_path: Path) -> None:
        journal = new_journal("sqlite", tmp_path)
        kept = journal.attach(photo())
        look = passed(CONDUIT, when=at(10, 9, 45))
        seen_by = write_down(journal, case().site, case().network, look, at=at(10, 10), by="phone")
        wanted = released(CONDUIT, "b-ito", at(10, 10)).model_copy(update={"attachment": kept})
        write_down(journal, case().site, case().network, wanted, at=at(10, 10), by="phone")
        points = hold_points(case().site, case().network, fold(journal.entries()), at(10, 12))
        assert [p.hold.id for p in points if p.status is HoldStatus.RELEASED] == [f"hold/{CONDUIT}"]
        given = next(p.release for p in points if p.release)
        assert (given.person, given.evidence, given.attachment) == ("b-ito", "Seen on site.", kept)
        assert given.rests_on == (seen_by.number,)

    @pytest.mark.parametrize("change", [{"hold": "hold/none"}, {"person": "nobody"}])
    def test_unknown_names_are_bad_input(self, tmp_path: Path, change: dict[str, str]) -> None:
        journal = new_journal("sqlite", tmp_path)
        wanted = released(CONDUIT, "c-dunn", at(10, 10)).model_copy(update=change)
        with pytest.raises(BadInput):
            write_down(journal, case().site, case().network, wanted, at=at(10, 10), by="phone")
        assert journal.entries() == ()


def test_the_list_says_since_when_the_trench_is_open() -> None:
    hold = next(h for h in case().network.holds if h.id == f"hold/{WATER}")
    point = hold_point(case().site, case().network, known(), hold, at(9, 10))
    assert (point.status, point.open_since) == (HoldStatus.WAITING, at(5, 8))
    assert hold_point(case().site, case().network, known(), hold, at(4, 10)).open_since is None


COVERED = CoverReported(alignment="main", from_ft=84, to_ft=120, when=at(10, 9, 45))
DUG_OPEN = UncoverReported(alignment="main", from_ft=84, to_ft=160, when=at(10, 13))


class TestCoveredTooEarly:
    """Cover over an unreleased hold stays in sight until it is put right."""

    @staticmethod
    def found(*happened: Said, moment: datetime | None = None, forged: tuple[Event, ...] = ()) -> list[str]:
        state = known(*happened, forged=forged)
        found = covered_unreleased(case().site, case().network, state, moment or at(20, 10))
        assert all(f.remedy and f.required for f in found)
        return sorted(h.id.split("/")[1] for h in case().network.holds for f in found if h.name in f.text)

    def test_it_is_flagged_at_once_and_stays(self) -> None:
        for moment in (COVERED.when, at(20, 10), at(31, 10)):
            every = ["conduit-look", "shading-look", "water-test"]
            assert self.found(COVERED, moment=moment) == every
        assert self.found(COVERED, moment=COVERED.when - timedelta(minutes=1)) == []

    def test_what_was_released_by_then_is_not_flagged(self) -> None:
        assert self.found(*ALL_RELEASED, COVERED.model_copy(update={"when": at(11, 13)})) == []
        assert self.found(ALL_RELEASED[0], COVERED) == ["conduit-look", "shading-look"]

    def test_shading_is_not_flagged_for_the_look_at_the_shading(self) -> None:
        assert self.found(COVERED.model_copy(update={"depth": "shading"})) == ["conduit-look", "water-test"]

    def test_reported_shading_work_counts_as_cover(self) -> None:
        assert self.found(Started(activity="orchard-row/L1/shade", when=at(9, 9))) == ["conduit-look"]

    @pytest.mark.parametrize(
        "put_right",
        [
            lambda n: list(ALL_RELEASED),
            lambda n: [DUG_OPEN],
            lambda n: [Corrected(supersedes=n, reason="Covered the next reach, not this one.")],
        ],
        ids=["released all the same", "dug open", "reported in error"],
    )
    def test_it_goes_when_it_is_put_right(self, put_right: Callable[[int], list[Event]]) -> None:
        number = 3 + sum(a.kind.needs_open_trench for a in case().network.activities)
        assert self.found(COVERED, *put_right(number)) == []

    def test_half_dug_open_is_not_put_right(self) -> None:
        assert len(self.found(COVERED, DUG_OPEN.model_copy(update={"to_ft": 100.0}))) == 3
        again = COVERED.model_copy(update={"when": at(10, 15)})
        assert len(self.found(COVERED, DUG_OPEN, again)) == 3

    def test_cover_after_a_release_has_lapsed_is_flagged(self) -> None:
        """The pass of Wed 10 Mar 10:00 is good for fourteen days of 24 hours: to Wed 24 Mar 11:00."""
        pass_and_release = (passed(CONDUIT, when=at(10, 10)), *ALL_RELEASED)
        in_time, late = (COVERED.model_copy(update={"when": at(24, h)}) for h in (11, 12))
        assert self.found(*pass_and_release, in_time, moment=at(31, 10)) == []
        assert self.found(*pass_and_release, late, moment=at(31, 10)) == ["conduit-look"]
        again = released(CONDUIT, "c-dunn", at(26, 9, 30))
        assert self.found(*pass_and_release, late, again, moment=at(31, 10)) == []

    def test_a_forged_release_puts_nothing_right(self) -> None:
        forged = released(CONDUIT, "r-amsel", at(10, 12), role="general_contractor")
        assert len(self.found(COVERED, forged=(forged,))) == 3
