"""Work of one day moved earlier together, where a piece of it alone would cost a day more; worked out by hand."""

from __future__ import annotations

import pytest

from scheduler.audit import audit
from scheduler.costs.billing import bill
from scheduler.network.model import DateRule, Network, Resource, ResourceKind
from scheduler.network.prices import Rates
from scheduler.schedule import Schedule, Span
from scheduler.solve.improvement.left_shift import move_early
from tests.jobs import at, job, task

GANG = Resource("crew/gang", "Gang", ResourceKind.CREW, 1, day_rate=500.0)
THURSDAY = {"a": (at(3, 8), at(3, 10)), "b": (at(3, 10), at(3, 12))}


def gang_job(*, third: bool = False, **rules: object) -> Network:
    names = "abc" if third else "ab"
    work = [task(i, 8 if i == "c" else 2, needs=(("crew/gang", 1),), trade="gang") for i in names]
    return job(*work, resources=(GANG,), rates=Rates(), **rules)


def moved(network: Network, dates: dict[str, Span]) -> dict[str, Span]:
    early = move_early(network, Schedule(dates))
    assert not audit(network, Schedule(early))
    assert bill(network, Schedule(early)).total <= bill(network, Schedule(dates)).total
    return early


def test_a_day_of_work_comes_earlier_as_a_whole() -> None:
    assert moved(gang_job(), THURSDAY) == {"a": (at(0, 8), at(0, 10)), "b": (at(0, 10), at(0, 12))}


@pytest.mark.parametrize("held", ["a", "b"])
def test_it_comes_on_the_first_day_that_takes_all_of_it(held: str) -> None:
    early = moved(gang_job(dates=(DateRule("held", held, at(1, 10)),)), THURSDAY)
    assert {start // at(1, 0) for start, _ in early.values()} == {1}, "nothing alone on Monday, all on Tuesday"


def test_where_the_day_before_is_full_it_stays() -> None:
    dates = {"a": (at(1, 8), at(1, 10)), "b": (at(1, 10), at(1, 12)), "c": (at(0, 8), at(0, 17))}
    held = DateRule("c", "c", at(0, 8), sense="max")
    assert moved(gang_job(third=True, dates=(held,)), dates) == dates


def test_where_a_machine_would_come_a_day_more_it_stays() -> None:
    digger = Resource("machine/digger", "Digger", ResourceKind.MACHINE, 1, day_rate=800.0)
    both = (("crew/gang", 1), ("machine/digger", 1))
    work = [task(i, 2, needs=both, trade="gang") for i in "ab"]
    work.append(task("c", 2, needs=(("machine/digger", 1),), trade="others"))
    held = DateRule("held", "c", at(3, 13))
    network = job(*work, resources=(GANG, digger), rates=Rates(), dates=(held,))
    dates = {**THURSDAY, "c": (at(3, 13), at(3, 15))}
    assert moved(network, dates) == dates, "the digger is there on Thursday for c"
