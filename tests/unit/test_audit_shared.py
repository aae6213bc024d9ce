"""The audit of what is shared: crews, machines, room, open trench, and inspectors' visits."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.audit import audit
from scheduler.findings import Severity
from scheduler.network.kind import Kind
from scheduler.network.model import (
    Network,
    Opening,
    OpenLimit,
    Resource,
    Space,
    VisitRule,
)
from scheduler.schedule import Schedule, Visit
from tests.jobs import at, broken, job, task

# ---- what is shared -------------------------------------------------------------------------------------------


def crowd(capacity: int, **units: int) -> Network:
    return job(
        *(task(i, needs=(("crew", n),)) for i, n in units.items()),
        resources=(Resource("crew", "Crew", capacity=capacity),),
    )


def test_a_crew_is_in_one_place_at_a_time():
    first, touching, overlapping = (at(0, 8), at(0, 10)), (at(0, 10), at(0, 12)), (at(0, 9.75), at(0, 11.75))
    assert broken(crowd(1, a=1, b=1), a=first, b=touching) == []
    assert broken(crowd(1, a=1, b=1), a=first, b=overlapping) == ["crew"]
    assert broken(crowd(2, a=1, b=1), a=first, b=overlapping) == []
    assert broken(crowd(2, a=1, b=2), a=first, b=overlapping) == ["crew"]
    assert broken(crowd(2, a=3), a=first) == ["crew"]


def test_one_overload_is_one_finding_with_its_peak_its_span_and_those_in_it():
    spans = {"a": (at(0, 8), at(0, 10)), "b": (at(0, 9), at(0, 11)), "c": (at(0, 9.5), at(0, 11.5))}
    network = crowd(1, a=1, b=1, c=1)
    (found,) = audit(network, Schedule(spans))
    assert found.text == '"Crew" is needed in too many places at once, by "task a", "task b", "task c".'
    assert found.found == "3 at once, Mon 8 Mar 09:00 to Mon 8 Mar 11:00"
    assert found.required == "1 at most"
    assert broken(crowd(2, a=1, b=1, c=1), **spans) == ["crew"]
    assert broken(crowd(3, a=1, b=1, c=1), **spans) == []


def test_only_those_who_are_in_an_overload_are_named():
    spans = {"a": (at(0, 8), at(0, 10)), "b": (at(0, 10), at(0, 12)), "c": (at(0, 10), at(0, 12))}
    (found,) = audit(crowd(1, a=1, b=1, c=1), Schedule(spans))
    assert found.text.endswith('by "task b", "task c".')


def test_two_overloads_apart_are_two_findings():
    spans = {
        "a": (at(0, 8), at(0, 10)),
        "b": (at(0, 8), at(0, 10)),
        "c": (at(1, 8), at(1, 10)),
        "d": (at(1, 8), at(1, 10)),
    }
    assert broken(crowd(1, a=1, b=1, c=1, d=1), **spans) == ["crew", "crew"]


def reach(a: str, b: str) -> Network:
    return job(task("a"), task("b"), spaces=(Space("room", "R1", (("a", a), ("b", b))),))


def test_two_trades_are_not_in_one_reach_at_once():
    first, touching, overlapping = (at(0, 8), at(0, 10)), (at(0, 10), at(0, 12)), (at(0, 9.75), at(0, 11.75))
    assert broken(reach("power", "water"), a=first, b=touching) == []
    assert broken(reach("power", "power"), a=first, b=overlapping) == []
    (found,) = audit(reach("power", "water"), Schedule({"a": first, "b": overlapping}))
    assert (found.rule, found.where, found.severity) == ("room", "R1", Severity.FIX)
    assert found.found == "Mon 8 Mar 09:45 to Mon 8 Mar 10:00"
    assert found.text == '"task b" and "task a" are in R1 at once.'
    (found,) = audit(reach("power", "machine"), Schedule({"a": overlapping, "b": first}))
    assert (found.rule, found.severity) == ("room", Severity.STOP)
    assert found.text == '"task a" and "task b" are in R1 at once, with a machine at work there.'


def test_a_long_stay_in_a_reach_meets_everyone_who_comes_meanwhile():
    network = job(
        task("a", 6), task("b"), task("c"), spaces=(Space("room", "R1", (("a", "x"), ("b", "y"), ("c", "y"))),)
    )
    spans = {"a": (at(0, 8), at(0, 15)), "b": (at(0, 8), at(0, 10)), "c": (at(0, 10), at(0, 12))}
    assert broken(network, **spans) == ["room", "room"]


def test_nobody_is_in_their_own_way():
    network = job(task("a"), spaces=(Space("room", "R1", (("a", "power"), ("a", "machine"))),))
    assert broken(network, a=(at(0, 8), at(0, 10))) == []


def test_an_event_without_work_takes_no_room_and_no_crew():
    network = job(
        task("a", needs=(("crew", 1),)),
        task("b", 0, needs=(("crew", 1),)),
        resources=(Resource("crew", "Crew"),),
        spaces=(Space("room", "R1", (("a", "x"), ("b", "y"))),),
    )
    assert broken(network, a=(at(0, 8), at(0, 10)), b=(at(0, 9), at(0, 9))) == []


def test_no_more_trench_stands_open_than_is_allowed():
    network = job(
        *(task(i) for i in ("dig1", "fill1", "dig2", "fill2")),
        openings=(Opening("o1", "R1", 60.0, "dig1", "fill1"), Opening("o2", "R2", 40.0, "dig2", "fill2")),
        open_limits=(OpenLimit("open", 99, (("o1", 60), ("o2", 40))),),
    )
    dates = {"dig1": (at(0, 8), at(0, 10)), "fill1": (at(1, 8), at(1, 10)), "fill2": (at(2, 8), at(2, 10))}
    assert broken(network, **dates, dig2=(at(1, 10), at(1, 12))) == []
    (found,) = audit(network, Schedule({**dates, "dig2": (at(1, 9.75), at(1, 11.75))}))
    assert (found.rule, found.where) == ("open", "R1, R2")
    assert found.found == "100 ft, Tue 9 Mar 09:45 to Tue 9 Mar 10:00"
    enough = replace(network, open_limits=(replace(network.open_limits[0], capacity=100),))
    assert broken(enough, **dates, dig2=(at(0, 8), at(0, 10))) == []


# ---- visits ---------------------------------------------------------------------------------------------------

LOOKS = ("a", "b", "c")
SPANS = {"a": (at(1, 9), at(1, 9.5)), "b": (at(1, 10), at(1, 10.5)), "c": (at(3, 9), at(3, 9.5))}
TUESDAY = Visit("v1", "city", at(1, 9), at(1, 10.5), ("a", "b"))
THURSDAY = Visit("v2", "city", at(3, 9), at(3, 9.5), ("c",))


def inspected(**caps: object) -> Network:
    looks = tuple(task(i, 0.5, "city", Kind.INSPECT, one_window=True) for i in LOOKS)
    feet = {"a": 40.0, "b": 60.5, "c": 10.0}
    city = VisitRule("city", "trench look", "City", "city", LOOKS, feet, **caps)  # type: ignore[arg-type]
    gas = VisitRule("gas", "gas look", "Gas works", "city", ())
    return job(*looks, visit_rules=(city, gas))


@pytest.mark.parametrize(
    ("visits", "rules"),
    [
        ((TUESDAY, THURSDAY), []),
        ((replace(TUESDAY, finish=at(1, 11)), THURSDAY), []),  # stays to the end of the window
        ((TUESDAY,), ["city"]),  # a look in no visit
        ((TUESDAY, replace(THURSDAY, looks=("c", "a"))), ["city", "city"]),  # twice seen, and not there
        ((TUESDAY, replace(THURSDAY, finish=at(3, 11.25))), ["city"]),  # after hours
        ((TUESDAY, replace(THURSDAY, start=at(3, 8.75))), ["city"]),  # before hours
        ((replace(TUESDAY, finish=at(3, 9.5), looks=LOOKS),), ["city"]),  # over two windows
        ((TUESDAY, replace(THURSDAY, start=at(3, 9.25))), ["city"]),  # look begins before the visit
        ((TUESDAY, replace(THURSDAY, finish=at(3, 9.25))), ["city"]),  # look ends after the visit
        ((TUESDAY, THURSDAY, replace(THURSDAY, id="v3", looks=())), ["city", "city"]),  # second, and empty
        ((TUESDAY, THURSDAY, Visit("v3", "gas", at(3, 9), at(3, 10), ("c",))), ["gas"]),  # another's look
        ((TUESDAY, replace(THURSDAY, rule="nobody")), ["city", "unknown/v2"]),
        ((TUESDAY, replace(THURSDAY, id="v1")), ["unknown/v1", "unknown/v1"]),
        (
            (replace(TUESDAY, finish=at(1, 9.5), looks=("a",)), replace(TUESDAY, id="v3", looks=("b",)), THURSDAY),
            ["city"],  # two visits in one window
        ),
    ],
)
def test_every_look_is_in_one_visit_of_its_inspection_in_one_window(visits: tuple[Visit, ...], rules: list[str]):
    assert broken(inspected(), *visits, **SPANS) == rules


@pytest.mark.parametrize(
    ("visits", "text", "required"),
    [
        ((TUESDAY,), '"task c" is in no visit of City.', "exactly one visit"),
        (
            (TUESDAY, THURSDAY, replace(THURSDAY, id="v3")),
            '"task c" is in 2 visits of City.',
            "exactly one visit",
        ),
        (
            (TUESDAY, replace(THURSDAY, start=at(3, 8.75))),
            'The visit "trench look" is outside the hours in which City comes.',
            "inside one stretch of city hours, next from Thu 11 Mar 09:00",
        ),
        (
            (TUESDAY, replace(THURSDAY, start=at(4, 9))),
            'The visit "trench look" is outside the hours in which City comes.',
            "inside one stretch of city hours",
        ),
        (
            (TUESDAY, replace(THURSDAY, rule="nobody")),
            'Visit "v2" is of no inspection of this job.',
            "one visit to an id, of one of this job's inspections",
        ),
        (
            (TUESDAY, replace(THURSDAY, id="v1")),
            'Visit "v1" has the same id as another visit.',
            "one visit to an id, of one of this job's inspections",
        ),
    ],
)
def test_a_wrong_visit_is_told_in_words(visits: tuple[Visit, ...], text: str, required: str):
    found = audit(inspected(), Schedule(SPANS, visits))
    assert (text, required) in [(f.text, f.required) for f in found]


def test_a_look_without_dates_in_a_visit_is_left_to_the_finding_that_it_has_none():
    assert broken(inspected(), TUESDAY, THURSDAY, a=SPANS["a"], c=SPANS["c"]) == ["missing/b"]


@pytest.mark.parametrize(
    ("caps", "rules"),
    [
        ({"max_looks": 2}, []),
        ({"max_looks": 1}, ["city"]),
        ({"max_ft": 100.5}, []),
        ({"max_ft": 100.4}, ["city"]),
        ({"max_looks": 1, "max_ft": 60.0}, ["city", "city"]),
    ],
)
def test_a_visit_sees_no_more_than_it_can(caps: dict[str, float], rules: list[str]):
    assert broken(inspected(**caps), TUESDAY, THURSDAY, **SPANS) == rules
