"""What pages ask of the same things is worked out once, and never mixed up."""

from __future__ import annotations

from app.once import MOST, once
from scheduler.language import spoken_in
from scheduler.units import told_in


def test_the_same_things_are_asked_about_once_and_equal_ones_apart():
    asked = []

    @once(1)
    def size(things: list[int], times: int = 1) -> int:
        asked.append(times)
        return times * len(things)

    mine, alike = [1, 2], [1, 2]
    assert [size(mine), size(mine), size(alike), size(mine, 3), size(mine, times=3)] == [2, 2, 2, 6, 6]
    assert asked == [1, 1, 3, 3]
    for n in range(MOST + 1):
        size([n])
    size(mine)
    assert asked[-1] == 1, "the oldest answers are given up"


def test_each_language_and_each_kind_of_units_has_its_own():
    asked = []

    @once(1)
    def said(thing: object) -> int:
        asked.append(thing)
        return len(asked)

    thing = object()
    plain = said(thing)
    with spoken_in("es"):
        spanish = said(thing)
    with told_in("metres"):
        metric = said(thing)
    assert len({plain, spanish, metric}) == 3
    assert said(thing) == plain
