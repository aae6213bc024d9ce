"""Published critical-path examples: every early and late date and every float."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.explain.chain import chains, critical_chain
from scheduler.explain.floats import Float, floats
from scheduler.network.dates import Propagation
from scheduler.network.kind import Kind
from scheduler.network.model import Activity, Link, LinkType, Network
from scheduler.schedule import Schedule
from tests.networks import plain_network

pytestmark = pytest.mark.known

# One row an activity: duration, predecessors, ES, EF, LS, LF, total float, free float.
Row = tuple[int, str, int, int, int, int, int, int]

# PMBOK Figure 6-18 (seen on a handbook page). The book prints 1-based starts (C 6-15, D 16-30);
# the free float of 5 is printed there.
PMBOK_6_18: dict[str, Row] = {
    "A": (5, "", 0, 5, 0, 5, 0, 0),
    "B": (5, "A", 5, 10, 10, 15, 5, 5),
    "C": (10, "A", 5, 15, 5, 15, 0, 0),
    "D": (15, "B C", 15, 30, 15, 30, 0, 0),
}

# A university course sheet on the critical path method; ES, EF, LS, LF and slack are printed
# there, free float computed by its definition. C and F tell total from free float.
COURSE_SHEET: dict[str, Row] = {
    "A": (6, "", 0, 6, 0, 6, 0, 0),
    "B": (2, "A", 6, 8, 6, 8, 0, 0),
    "C": (2, "A", 6, 8, 7, 9, 1, 0),
    "D": (3, "B", 8, 11, 8, 11, 0, 0),
    "F": (2, "C", 8, 10, 9, 11, 1, 1),
    "E": (4, "D F", 11, 15, 11, 15, 0, 0),
    "G": (1, "E", 15, 16, 15, 16, 0, 0),
}

# An exam-notes network of eleven arcs; the network is printed there, the results computed by
# hand from event times early/late: 1 0/0, 2 2/11, 3 7/7, 4 8/11, 5 13/14, 6 17/17, 7 15/16, 8 22/22.
EXAM_NOTES: dict[str, Row] = {
    "1-2": (2, "", 0, 2, 9, 11, 9, 0),
    "1-3": (7, "", 0, 7, 0, 7, 0, 0),
    "1-4": (8, "", 0, 8, 3, 11, 3, 0),
    "2-5": (3, "1-2", 2, 5, 11, 14, 9, 8),
    "3-5": (6, "1-3", 7, 13, 8, 14, 1, 0),
    "3-6": (10, "1-3", 7, 17, 7, 17, 0, 0),
    "3-7": (4, "1-3", 7, 11, 12, 16, 5, 4),
    "4-6": (6, "1-4", 8, 14, 11, 17, 3, 3),
    "5-7": (2, "2-5 3-5", 13, 15, 14, 16, 1, 0),
    "6-8": (5, "3-6 4-6", 17, 22, 17, 22, 0, 0),
    "7-8": (6, "3-7 5-7", 15, 21, 16, 22, 1, 1),
}

# A question-and-answer page's network in which everything is critical; results computed.
ALL_CRITICAL: dict[str, Row] = {
    "A": (7, "", 0, 7, 0, 7, 0, 0),
    "B": (5, "", 0, 5, 0, 5, 0, 0),
    "C": (3, "A", 7, 10, 7, 10, 0, 0),
    "D": (5, "B", 5, 10, 5, 10, 0, 0),
    "E": (4, "C", 10, 14, 10, 14, 0, 0),
    "F": (4, "C D", 10, 14, 10, 14, 0, 0),
    "G": (3, "E F", 14, 17, 14, 17, 0, 0),
    "H": (1, "G", 17, 18, 17, 18, 0, 0),
}

EXAMPLES = {
    "PMBOK figure 6-18": PMBOK_6_18,
    "course sheet": COURSE_SHEET,
    "exam notes, arcs": EXAM_NOTES,
    "all critical": ALL_CRITICAL,
}


def network_of(example: dict[str, Row]) -> Network:
    activities = tuple(Activity(name, name, Kind.PLAIN, row[0], "always") for name, row in example.items())
    links = tuple(Link(f"{b}>{name}", b, name) for name, row in example.items() for b in row[1].split())
    return replace(plain_network([], []), activities=activities, links=links)


def planned_early(network: Network) -> Schedule:
    dates = Propagation(network).forward()
    assert dates is not None
    return Schedule(dates)


@pytest.mark.parametrize("example", EXAMPLES.values(), ids=EXAMPLES.keys())
def test_every_date_and_float_is_the_published_one(example: dict[str, Row]) -> None:
    network = network_of(example)
    found = floats(network, planned_early(network))
    for name, (_, _, es, ef, ls, lf, total, free) in example.items():
        assert found[name] == Float(es, ef, ls, lf, total, free, critical=total == 0), name


@pytest.mark.parametrize("example", EXAMPLES.values(), ids=EXAMPLES.keys())
def test_start_float_equals_finish_float(example: dict[str, Row]) -> None:
    # Total float is LS - ES and LF - EF alike: US Navy training manual NAVEDTRA 14045.
    network = network_of(example)
    for f in floats(network, planned_early(network)).values():
        assert f.late_start - f.early_start == f.late_finish - f.early_finish == f.total


@pytest.mark.parametrize(
    ("example", "chain"),
    [(PMBOK_6_18, "A C D"), (COURSE_SHEET, "A B D E G"), (EXAM_NOTES, "1-3 3-6 6-8")],
    ids=["PMBOK figure 6-18", "course sheet", "exam notes"],
)
def test_the_critical_chain_is_the_published_one(example: dict[str, Row], chain: str) -> None:
    network = network_of(example)
    steps = critical_chain(network, planned_early(network))
    assert [s.activity for s in steps] == chain.split()
    assert steps[0].tie.kind == "data date"


def test_all_three_critical_chains_are_found() -> None:
    network = network_of(ALL_CRITICAL)
    found = {" ".join(s.activity for s in c.steps) for c in chains(network, planned_early(network)) if c.critical}
    assert found == {"A C E G H", "A C F G H", "B D F G H"}


def test_near_critical_chains_are_ranked_by_float() -> None:
    network = network_of(EXAM_NOTES)
    found = chains(network, planned_early(network))
    assert [c.slack for c in found] == [0, 1, 3, 5, 9]
    assert [s.activity for s in found[1].steps] == ["1-3", "3-5", "5-7", "7-8"]


def test_interfering_float_is_total_less_free() -> None:
    # Textbook definition (from memory); arc 2-5 of the exam notes: 9 - 8 = 1.
    network = network_of(EXAM_NOTES)
    room = floats(network, planned_early(network))["2-5"]
    assert room.total - room.free == 1


def test_a_lag_is_taken_off_the_free_float() -> None:
    # US Navy training manual NAVEDTRA 14045: EF 10, lag 2, the follower's ES 13 leave 1.
    network = plain_network([10, 13, 1], [(1, 2)])
    network = replace(network, links=(*network.links, Link("lag", "0", "2", lag=2)))
    assert floats(network, planned_early(network))["0"].free == 1


@pytest.mark.parametrize(
    ("kind", "start"),
    [(LinkType.FS, 3 + 4 + 2), (LinkType.SS, 3 + 2), (LinkType.FF, 3 + 4 + 2 - 1), (LinkType.SF, 3 + 2 - 1)],
)
def test_link_types_follow_the_precedence_diagram_rules(kind: LinkType, start: int) -> None:
    # Precedence-diagram texts (from memory): FS, SS, FF, SF each compare the ends they name, plus the lag.
    network = plain_network([3, 4, 1], [(0, 1)])
    network = replace(network, links=(*network.links, Link("k", "1", "2", kind, lag=2)))
    assert planned_early(network).dates["2"] == (start, start + 1)


def test_a_finish_before_what_is_possible_leaves_no_late_dates() -> None:
    network = network_of(PMBOK_6_18)
    assert Propagation(network).backward(29) is None
    assert Propagation(network).backward(30) is not None
