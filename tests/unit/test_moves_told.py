"""What moves is told by day, party and stretch, each reason once, and long lists by party; nothing is left out."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from scheduler.replan.moves_told import by_party, move_groups, reasons_said, shared_reasons
from scheduler.replan.replan_records import Move

PLACE = "Main drive 1+60 to 2+20"
MUST, BUYS = "It must move: it waits for the tie-in.", "Part of what buys this: all is finished 1 day sooner."


def move(number: int, *, day: int, was: int | None, who: str, why: str, place: str = PLACE) -> Move:
    at = datetime(2027, 3, day, 8, tzinfo=UTC) + timedelta(minutes=15 * number)
    before = None if was is None else datetime(2027, 3, was, 8, tzinfo=UTC) + timedelta(minutes=15 * number)
    name = f"Lay pipe {number}, {place}"
    return Move(f"a{number}", name, who, before, at, at, outside=False, buys=why, place=place)


def local(when: datetime) -> datetime:
    return when


def some() -> list[Move]:
    plumbers = [move(n, day=9, was=8, who="Plumber", why=MUST if n == 3 else BUYS) for n in range(6)]
    electricians = [move(n, day=10, was=12, who="Electrician", why=BUYS) for n in range(6, 9)]
    return [
        *plumbers,
        *electricians,
        move(9, day=9, was=None, who="Plumber", why=MUST, place="Side drive 0+00 to 0+40"),
    ]


def test_moves_stand_together_by_day_party_and_stretch_and_a_reason_is_said_once() -> None:
    groups = move_groups(some(), local)
    assert [g.head for g in groups] == [
        f"Tue 9 Mar, Plumber, {PLACE}",
        "Tue 9 Mar, Plumber, Side drive 0+00 to 0+40",
        f"Wed 10 Mar, Electrician, {PLACE}",
    ]
    shared = shared_reasons(groups)
    assert reasons_said(shared) == [("Why, unless another reason is given:", BUYS), ("Reason A:", MUST)]
    said = [g.said(local, shared) for g in groups]
    assert not any(BUYS in s or MUST in s for s in said)
    assert [s.count("Reason A.") for s in said] == [1, 1, 0]
    assert said[0].startswith("Lay pipe 0 08:00 (was Mon 8 Mar 08:00, 1 day later); ")
    assert "Lay pipe 9 10:15 (new)" in said[1]
    assert sorted(m.activity for g in groups for m in g.moves) == sorted(m.activity for m in some())


def test_a_long_list_is_counted_by_party() -> None:
    lines = [one.said(local) for one in by_party(some())]
    assert lines == [
        "Plumber: 7 tasks, 1 of them new; Tue 9 Mar; 1 day later.",
        "Electrician: 3 tasks; Wed 10 Mar; 2 days sooner.",
    ]


def test_a_reason_of_one_group_stays_with_it() -> None:
    groups = move_groups([move(1, day=9, was=8, who="Plumber", why=MUST)], local)
    assert shared_reasons(groups) == {}
    assert groups[0].said(local).endswith(MUST)
