"""What the audit says: where, what was found, what is required, why, and what to do."""

from __future__ import annotations

import pytest

from scheduler.audit import audit
from scheduler.network.kind import Kind
from scheduler.network.model import (
    Booking,
    DateRule,
    Link,
    LinkType,
    Network,
    Renewal,
    Target,
    Ticket,
)
from scheduler.schedule import Schedule
from tests.jobs import at, job, task

BEFORE = (at(0, 8), at(0, 10))


def linked(link: Link) -> Network:
    return job(task("a", 2, "always"), task("b", 1, "always"), links=(link,))


def test_the_same_words_for_every_wrong_date_of_one_activity():
    network = job(task("a", one_window=True), data_date=at(0, 8), horizon=at(2, 0), target=Target("target", at(1, 12)))

    def said(start: float, finish: float, day: int = 0) -> list[tuple[str, str, str]]:
        found = audit(network, Schedule({"a": (at(day, start), at(day, finish))}))
        return [(f.text, f.found, f.required) for f in found]

    assert said(11, 14) == [
        (
            '"task a" is broken off at Mon 8 Mar 12:00 and carried on later; it must be done in one go.',
            "Mon 8 Mar 11:00 to Mon 8 Mar 14:00",
            "all 2 h without a break, in one stretch of crew hours",
        )
    ]
    assert said(7, 9) == [
        (
            '"task a" starts outside its working hours (crew hours).',
            "Mon 8 Mar 07:00",
            "a start inside those hours, next Mon 8 Mar 08:00",
        ),
        (
            '"task a" starts before the date this plan is made from.',
            "Mon 8 Mar 07:00",
            "Mon 8 Mar 08:00 or later",
        ),
    ]
    assert said(10, 9.75) == [
        (
            '"task a" finishes before it starts.',
            "start Mon 8 Mar 10:00, finish Mon 8 Mar 09:45",
            "a finish after the start",
        )
    ]
    assert said(10, 11.75) == [
        (
            '"task a" is given less than its work takes in its working hours (crew hours).',
            "1 h 45 min of working hours, finish Mon 8 Mar 11:45",
            "2 h of work, finish Mon 8 Mar 12:00",
        )
    ]
    assert said(8, 10, day=2) == [
        (
            '"task a" finishes after the last day for which working hours are known.',
            "Wed 10 Mar 10:00",
            "Wed 10 Mar 00:00 or earlier",
        ),
        ('"task a" finishes after the target.', "Wed 10 Mar 10:00", "Tue 9 Mar 12:00 or earlier"),
    ]


def test_of_all_that_is_late_the_latest_is_told_first():
    network = job(task("a", reach="R1"), task("b", reach="R2"), target=Target("target", at(0, 9)))
    (found,) = audit(network, Schedule({"a": (at(0, 10), at(0, 12)), "b": (at(0, 15), at(0, 17))}))
    assert (found.where, found.text, found.found) == (
        "R2",
        '"task b", "task a" finish after the target.',
        "Mon 8 Mar 17:00",
    )


def test_a_crowd_is_named_in_part():
    network = job(*(task(i) for i in "abcdef"), target=Target("target", at(0, 9)))
    (found,) = audit(network, Schedule(dict.fromkeys("abcdef", (at(0, 10), at(0, 12)))))
    assert found.text == '"task a", "task b", "task c", "task d" and 2 more finish after the target.'


def test_a_date_in_another_year_says_so_and_one_beyond_all_calendars_too():
    network = job(task("a"))
    found = audit(network, Schedule({"a": (at(300, 9), 10**12)}))
    assert found[0].found == "Sun 2 Jan 2028 09:00"
    assert found[-1].found == "a time no calendar knows"


TICKET = Ticket(
    "ticket",
    "locates",
    clear=at(0, 8),
    expiry=at(0, 10),
    digs=("dig",),
    renewals=(Renewal("first", at(0, 9), at(1, 10)), Renewal("second", at(1, 9), at(2, 10))),
)


def test_a_wrong_length_is_told_apart_from_dates_the_wrong_way_round():
    said = [audit(job(task("a")), Schedule({"a": (at(0, 11), at(0, finish))}))[0].text for finish in (10, 13.5, 14.25)]
    assert said == [
        '"task a" finishes before it starts.',
        '"task a" is given less than its work takes in its working hours (crew hours).',
        '"task a" finishes later than its work takes in its working hours (crew hours).',
    ]


def test_work_past_the_last_hours_known_is_told_as_such():
    (closed,) = audit(job(task("a")), Schedule({"a": (at(0, 6), at(0, 8))}))
    assert closed.required == "a start inside those hours, next Mon 8 Mar 08:00"
    (closed,) = audit(job(task("a")), Schedule({"a": (at(0, 12), at(0, 14))}))
    assert closed.required == "a start inside those hours, next Mon 8 Mar 13:00"
    (closed,) = audit(job(task("a")), Schedule({"a": (at(5, 9), at(5, 11))}))
    assert closed.required == "a start inside those hours, of which none are left"
    (long,) = audit(job(task("a")), Schedule({"a": (at(4, 16), at(4, 18))}))
    assert (long.required, long.remedy) == (
        "2 h of work, finish past the end of its calendar",
        "Start it earlier.",
    )


@pytest.mark.parametrize(
    ("rule", "text", "required"),
    [
        (DateRule("r", "a", at(0, 9)), '"task a" starts too early.', "Mon 8 Mar 09:00 or later"),
        (DateRule("r", "a", at(0, 7), sense="max"), '"task a" starts too late.', "Mon 8 Mar 07:00 or earlier"),
        (DateRule("r", "a", at(0, 9), "finish", "fixed"), '"task a" finishes too late.', "exactly Mon 8 Mar 09:00"),
    ],
)
def test_a_broken_date_rule_says_which_edge_and_which_way(rule: DateRule, text: str, required: str):
    (found,) = audit(job(task("a"), dates=(rule,)), Schedule({"a": (at(0, 8), at(0, 10))}))
    assert (found.text, found.required) == (text, required)


def test_a_missed_appointment_says_when_it_was():
    span = Schedule({"a": (at(0, 8), at(0, 10))})
    for until, required in (
        (at(1, 9) + 1, "a start at Tue 9 Mar 09:00"),
        (at(1, 11), "a start from Tue 9 Mar 09:00 and before Tue 9 Mar 11:00"),
    ):
        (found,) = audit(job(task("a"), bookings=(Booking("x", "tie-in", ("a",), at(1, 9), until, firm=True),)), span)
        assert (found.text, found.required) == ('"task a" misses the firm appointment "tie-in".', required)


@pytest.mark.parametrize(
    ("link", "text", "required"),
    [
        (Link("l", "a", "b"), '"task b" starts before the finish of "task a".', "Mon 8 Mar 10:00 or later"),
        (
            Link("l", "a", "b", LinkType.SF, 16, "crew"),
            '"task b" finishes sooner than 4 h of crew hours after the start of "task a".',
            "Mon 8 Mar 12:00 or later",
        ),
        (
            Link("l", "b", "a", lag=2, at_most=True),
            '"task a" starts later than 30 min after the finish of "task b".',
            "Sun 7 Mar 09:30 or earlier",
        ),
        (
            Link("l", "b", "a", LinkType.FF, at_most=True),
            '"task a" finishes later than the finish of "task b".',
            "Sun 7 Mar 09:00 or earlier",
        ),
        (
            Link("l", "b", "a", LinkType.SS, -2, at_most=True),
            '"task a" starts later than 30 min before the start of "task b".',
            "Sun 7 Mar 07:30 or earlier",
        ),
        (
            Link("l", "a", "b", lag=4000, lag_calendar="crew"),
            '"task b" starts sooner than 1000 h of crew hours after the finish of "task a".',
            "later than the working hours known for it",
        ),
    ],
)
def test_a_broken_link_says_which_ends_and_how_far_apart(link: Link, text: str, required: str):
    dates = {"a": BEFORE, "b": (at(-1, 8), at(-1, 9))}
    found = [f for f in audit(linked(link), Schedule(dates)) if f.rule == "l"]
    assert [(f.text, f.required) for f in found] == [(text, required)]


def test_a_dig_out_of_its_ticket_says_at_which_end():
    network = job(task("dig", calendar="always", kind=Kind.DIG), tickets=(TICKET,))
    early, late = (
        audit(network, Schedule({"dig": (at(0, 7), at(0, 9))})),
        audit(network, Schedule({"dig": (at(0, 9), at(0, 11))})),
    )
    assert [(f.text, f.required) for f in early + late] == [
        ('"task dig" starts before locate ticket "locates" is clear.', "Mon 8 Mar 08:00 or later"),
        (
            '"task dig" is still digging after locate ticket "locates" has expired.',
            "finished Mon 8 Mar 10:00 or earlier",
        ),
    ]


def test_a_finding_says_where_what_was_found_what_is_required_why_and_what_to_do():
    activity = task("b", 1, "always", reach="R3", from_ft=160, to_ft=220.5)
    link = Link("cure", "a", "b", lag=at(1, 2.5), because="the joint must cure", source="maker's sheet")
    network = job(task("a", 2, "always"), activity, links=(link,))
    (found,) = audit(network, Schedule({"a": BEFORE, "b": (at(1, 12.25), at(1, 13.25))}))
    assert found.where == "R3 1+60 to 2+20.5"
    assert found.text == (
        '"task b" starts sooner than 1 day 2 h 30 min after the finish of "task a". The joint must cure.'
    )
    assert found.found == "Tue 9 Mar 12:15; the other's finish Mon 8 Mar 10:00"
    assert found.required == "Tue 9 Mar 12:30 or later"
    assert found.source == "maker's sheet"
    assert found.remedy == "Let it start Tue 9 Mar 12:30 or later, or move the other."


@pytest.mark.parametrize("because", ["the city opens it", "The city opens it.", " the city opens it. "])
def test_a_reason_is_a_sentence_of_its_own_with_one_full_stop(because: str):
    network = job(task("a"), target=Target("target", at(0, 9), because=because))
    (found,) = audit(network, Schedule({"a": BEFORE}))
    assert found.text == '"task a" finishes after the target. The city opens it.'


@pytest.mark.parametrize(
    ("ticks", "required"),
    [(1, "a start at Mon 8 Mar 13:00"), (2, "a start from Mon 8 Mar 13:00 and before Mon 8 Mar 13:30")],
)
def test_an_appointment_at_a_moment_is_told_as_that_and_a_longer_one_from_when_to_when(ticks: int, required: str):
    booking = Booking("b", "tie-in", ("a",), at(0, 13), at(0, 13) + ticks, firm=True)
    (found,) = audit(job(task("a"), bookings=(booking,)), Schedule({"a": BEFORE}))
    assert found.required == required


@pytest.mark.parametrize(("late", "more"), [(4, ""), (5, " and 1 more"), (6, " and 2 more")])
def test_four_of_a_crowd_are_named_and_the_others_counted(late: int, more: str):
    ids = "abcdef"[:late]
    network = job(*(task(i) for i in ids), target=Target("target", at(0, 9)))
    (found,) = audit(network, Schedule(dict.fromkeys(ids, BEFORE)))
    assert found.text == f'"task a", "task b", "task c", "task d"{more} finish after the target.'
