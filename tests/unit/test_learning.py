"""Learning: the published curve, and what it takes off the work of each further reach."""

from __future__ import annotations

from collections.abc import Callable
from math import ceil

import pytest

from scheduler.network.learning_work import share_of_first
from scheduler.network.model import Network
from tests.derived import Records, network


@pytest.mark.parametrize(
    ("rate", "hours"), [(0.80, 21.13225), (0.85, 32.23647), (0.90, 48.00243), (0.95, 69.95640)]
)  # fmt: skip
def test_the_hours_of_unit_125_are_those_of_a_published_example(rate: float, hours: float) -> None:
    """A first unit takes 100 hours. Source: `unit_curve` in the manual of the R package learningCurve 1.1.2."""
    assert 100 * share_of_first(125, rate) == pytest.approx(hours, abs=5e-6)


def test_unit_125_by_unit_100_is_that_of_the_same_example() -> None:
    assert 100 * share_of_first(125, 0.85) / share_of_first(100, 0.85) == pytest.approx(94.90257, abs=5e-6)


def test_each_doubling_leaves_the_rate() -> None:
    assert [share_of_first(n, 0.9) for n in (1, 2, 4, 8)] == pytest.approx([1, 0.9, 0.81, 0.729])


def learning(rate: float, **more: object) -> Callable[[Records], None]:
    def change(records: Records) -> None:
        records["learning"] = {"rate": rate, **more}

    return change


def works(net: Network, *ids: str) -> list[int]:
    return [net.by_id[i].work for i in ids]


def test_the_second_reach_of_an_alignment_takes_the_rate_of_what_it_would_and_the_first_of_each_all() -> None:
    """By hand: R1 and R2 lie along the main run, R3 alone on its branch; R2 has 60 ft, R1 100 ft."""
    plain, quick = network(), network(learning(0.8))
    assert works(quick, "R1/dig", "R3/dig") == works(plain, "R1/dig", "R3/dig")
    lay = "R1/L0/lay-P1", "R2/L0/lay-P1"
    assert works(plain, *lay) == [10, 6], "100 ft and 60 ft at 40 ft an hour, in quarters of an hour"
    assert works(quick, *lay) == [10, 5], "0.8 of 6 is 4.8"
    assert "Learning: number 2 of such stretches along Main run, 80% of the time" in quick.by_id["R2/dig"].because
    assert "Wright (1936)" in quick.by_id["R2/dig"].source
    assert quick.by_id["outside/U1"].work == plain.by_id["outside/U1"].work
    looks = [a.id for a in plain.activities if a.kind.is_look]
    assert works(quick, *looks) == works(plain, *looks)


def test_pieces_of_one_reach_are_one_stretch_and_none_takes_less_than_the_least_share() -> None:
    plain, quick = network(), network(learning(0.5, least_share=0.9))
    assert works(quick, "R1:1/lifts", "R1:2/lifts") == works(plain, "R1:1/lifts", "R1:2/lifts")
    (lifts,) = works(plain, "R2/lifts")
    assert works(quick, "R2/lifts") == [ceil(0.9 * lifts)]


def test_only_kinds_that_are_named_go_quicker_and_hours_given_by_activity_stay() -> None:
    plain, quick = network(), network(learning(0.7, kinds=["lay"]))
    changed = {a.id for a, b in zip(plain.activities, quick.activities, strict=True) if a != b}
    assert changed
    assert all("R2/" in i and "/lay-" in i for i in changed)

    def given(r: Records) -> None:
        r["learning"] = {"rate": 0.7}
        r["durations"] = {"R2/dig": 6}

    assert network(given).by_id["R2/dig"].work * network().clock.tick_minutes == 360


def test_nobody_learns_where_no_rate_is_given() -> None:
    def none(r: Records) -> None:
        r["learning"] = {"least_share": 0.5}

    assert network(none) == network()


def test_learning_that_touches_nothing_is_told() -> None:
    plain, quick = network(), network(learning(0.8, kinds=["surface cut"]))
    assert quick.activities == plain.activities
    (note,) = [n.finding for n in quick.notes if n not in plain.notes]
    assert note.rule == "learning-idle"
    assert "learning-idle" not in {n.finding.rule for n in network(learning(0.8)).notes}


def test_the_order_of_stations_counts_not_that_of_the_file() -> None:
    def turned(r: Records) -> None:
        r["learning"] = {"rate": 0.8}
        r["reaches"].reverse()

    assert "Learning" in network(turned).by_id["R2/dig"].because
    assert "Learning" not in network(turned).by_id["R1/dig"].because
