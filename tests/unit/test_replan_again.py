"""After a failed look or test: mended, tested again, looked at again, before anything covers it."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise

import pytest

import scheduler
from scheduler import bundled_sites
from scheduler.ledger.day_events import TestFailed
from scheduler.ledger.events import Finished, InspectionFailed, InspectionPassed, Started
from scheduler.ledger.ground_events import RepairReported
from scheduler.plan import PlanActivity
from scheduler.replan.replan_records import Aim, Replanning
from scheduler.situation.job import job_of
from scheduler.solve.outcome import Options
from tests.happenings import as_planned, entries
from tests.kept_plans import kept_plan
from tests.small_site import damaged
from tests.stories import by_reach
from tests.unit.test_replan_events import Story, june, rows

LOOK, TEST, SHADE = "look/I1/R1/L0", "R1/L0/test-W1", "R1:2/L0/shade"
REPAIR = "repair/I1/R1/L0/1"
NAMES = ("I1/R1/L0",)


@pytest.fixture(scope="module")
def story(tmp_path_factory: pytest.TempPathFactory) -> Story:
    return Story(tmp_path_factory.mktemp("small"))


@pytest.fixture(scope="module")
def pressed(tmp_path_factory: pytest.TempPathFactory) -> Story:
    """The same site, where the city reads the pressure test itself."""
    return Story(tmp_path_factory.mktemp("pressed"), damaged(("    stage: lines_laid\n", "    stage: pressure_test\n")))


def failed(story: Story, hours: float = 2) -> InspectionFailed:
    when = story.planned(LOOK).finish
    return InspectionFailed(looks=(LOOK,), inspector="eye", faults="drops 5 psi", repair_hours=hours, when=when)


def in_order(now: dict[str, PlanActivity], *ids: str) -> bool:
    return all(now[a].finish <= now[b].start for a, b in pairwise(ids))


def all_ways(found: Replanning) -> list[dict[str, PlanActivity]]:
    return [rows(found, aim) for aim in Aim if found.serving(aim)]


@pytest.mark.parametrize("which", ["story", "pressed"])
def test_what_is_mended_is_tested_again_before_it_is_looked_at_and_covered(
    which: str, request: pytest.FixtureRequest
) -> None:
    story: Story = request.getfixturevalue(which)
    as_of = story.planned(LOOK).finish
    found = story.after(as_of, failed(story), without=NAMES)
    assert TEST not in found.frozen, "the test before it counts no longer"
    for now in all_ways(found):
        assert in_order(now, REPAIR, TEST, LOOK, SHADE)
        assert now[LOOK].start - now[TEST].finish >= timedelta(minutes=15), "the pressure is held as before"
        assert now[TEST].work_minutes == story.planned(TEST).work_minutes
        assert now[TEST].trade == "gc"
    assert "tested again" in next(m.buys for m in found.alternatives[0].moves if m.activity == TEST)


def test_a_test_made_again_after_the_mending_counts_and_one_made_before_it_does_not(story: Story) -> None:
    fell = story.planned(LOOK).finish
    mended = Finished(activity=REPAIR, when=fell + timedelta(hours=2))
    early = Finished(activity=TEST, when=fell + timedelta(hours=1))
    late = Finished(activity=TEST, when=fell + timedelta(hours=3))
    as_of = fell + timedelta(hours=4)
    gone = (*NAMES, SHADE, "R1:2/L0/fill")
    assert TEST not in story.after(as_of, failed(story), mended, early, without=gone).frozen
    found = story.after(as_of, failed(story), mended, late, without=gone)
    assert TEST in found.frozen
    assert all(now[LOOK].start >= as_of for now in all_ways(found))
    begun = Started(activity=TEST, when=fell + timedelta(hours=3, minutes=50))
    going = story.after(as_of, failed(story), mended, begun, without=gone)
    assert all(now[TEST].start == begun.when and in_order(now, TEST, LOOK) for now in all_ways(going))


def test_nothing_to_mend_is_still_tested_again(story: Story) -> None:
    as_of = story.planned(LOOK).finish
    for now in all_ways(story.after(as_of, failed(story, 0), without=NAMES)):
        assert REPAIR not in now
        assert now[TEST].start >= as_of
        assert in_order(now, TEST, LOOK, SHADE)


def test_a_test_or_a_look_is_never_taken_as_done_whatever_later_work_shows(story: Story) -> None:
    as_of = june(17, 12)
    found = story.after(as_of, without=(TEST, "R3/bed"))
    assert TEST not in found.frozen, "the look passed and the trench is filled, but nobody reported the test"
    assert TEST not in [t.activity for t in found.taken_as_done]
    assert any("only when somebody reports it" in n and "test of Water to shed" in n for n in found.notes)
    assert [t.activity for t in found.taken_as_done] == ["R3/bed"]
    seen = InspectionPassed(looks=(LOOK,), inspector="eye", when=story.planned(LOOK).finish)
    assert TEST not in story.after(as_of, seen, without=(TEST,)).frozen


def test_on_the_bundled_small_site_the_mended_water_line_is_tested_again_before_the_inspector_reads_it() -> None:
    """'Water line under pressure, Orchard row' fails; its test, done before, is done again and held for two hours."""
    case = scheduler.load(by_reach(), path=bundled_sites()["orchard-lane"])
    before = kept_plan(case, Options(only_finish=True)).plan
    row = "orchard-row/L0"
    look, test, shade = f"look/water-test/{row}", f"{row}/test-water", f"{row}/shade"
    as_of = next(a.finish for a in before.activities if a.id == look)
    said = [(at, e) for at, e in as_planned(case, before, as_of) if "water-test/orchard-row" not in str(e)]
    fell = InspectionFailed(looks=(look,), inspector="c-dunn", faults="drops 5 psi", repair_hours=2, when=as_of)
    job = job_of(case.site, case.network, entries([*said, (as_of, fell)]), as_of, before)
    open_ = {a.id for a in job.network.activities if not a.happened}
    repair = "repair/water-test/orchard-row/L0/1"
    assert open_ >= {repair, test, look, shade}
    waits = {(k.before, k.after): k.lag for k in job.network.links if not k.at_most}
    assert (repair, test) in waits
    assert waits[test, look] * case.network.clock.tick_minutes == 120
    assert any(h.look == look and shade in h.gates for h in job.network.holds)
    assert "tested again" in job.new[test]


def covered_after(now: dict[str, PlanActivity]) -> bool:
    return in_order(now, TEST, LOOK, SHADE)


@pytest.mark.parametrize("which", ["story", "pressed"])
def test_mending_alone_has_the_test_and_the_look_made_again_before_anything_covers_it(
    which: str, request: pytest.FixtureRequest
) -> None:
    """Nothing is said to have failed; the test and the look before the mending count no longer."""
    story: Story = request.getfixturevalue(which)
    fell, now_ = story.planned(LOOK).finish, story.planned(LOOK)
    place = {"alignment": now_.alignment, "from_ft": now_.from_ft, "to_ft": now_.to_ft}
    mended = RepairReported(**place, what="The joint.", when=fell + timedelta(minutes=10))
    as_of = fell + timedelta(minutes=15)
    gone = (SHADE,)
    found = story.after(as_of, mended, without=gone)
    assert not {TEST, LOOK} & set(found.frozen)
    for now in all_ways(found):
        assert covered_after(now)
        assert now[TEST].start >= as_of
    tested = Finished(activity=TEST, when=as_of + timedelta(hours=1))
    later = story.after(as_of + timedelta(hours=2), mended, tested, without=gone)
    assert TEST in later.frozen
    assert LOOK not in later.frozen, "what was looked at before the test was made again is looked at again"


def test_a_test_of_a_trade_that_failed_is_mended_made_again_and_looked_at_again(story: Story) -> None:
    """Recorded after the look had passed: all three are open again, in this order, until each is on record."""
    fell = story.planned(LOOK).finish
    broke = TestFailed(activity=TEST, faults="lost 5 psi", repair_hours=2, when=fell + timedelta(minutes=10))
    as_of, mend = fell + timedelta(minutes=15), f"repair/{TEST}/1"
    for now in all_ways(story.after(as_of, broke, without=(SHADE,))):
        assert in_order(now, mend, TEST, LOOK, SHADE)
    done = Finished(activity=mend, when=fell + timedelta(hours=3))
    again = Finished(activity=TEST, when=fell + timedelta(hours=4))
    late = fell + timedelta(hours=5)
    for now in all_ways(story.after(late, broke, again, without=(SHADE,))):
        assert now[LOOK].start >= late, "tested again, not looked at again"
    for now in all_ways(story.after(late, broke, done, without=(SHADE,))):
        assert now[TEST].start >= late, "mended, not tested again"
        assert in_order(now, TEST, LOOK, SHADE)
    early = Finished(activity=TEST, when=fell + timedelta(hours=2))
    for now in all_ways(story.after(late, broke, early, done, without=(SHADE,))):
        assert now[TEST].start >= late, "tested before it was fixed"
        assert in_order(now, TEST, LOOK, SHADE)
