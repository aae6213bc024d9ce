"""The figures of a plan that stand side by side before and after: short pieces and an inspector's waits, by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.network.kind import Kind
from scheduler.schedule import Schedule, Visit
from tests.benchmarks.plan_figures import HEAD, longest_wait, main, short_pieces
from tests.networks import plain_network
from tests.unit.test_longer_work import small


def test_pieces_of_half_an_hour_or_less_are_counted_where_the_hours_break_them():
    network = plain_network([2, 3, 6, 1], [])
    calendar = replace(network.calendars["always"], windows=((0, 20), (24, 40)))
    work = [replace(a, trade="crew") for a in network.activities]
    network = replace(network, calendars={"always": calendar}, activities=(*work[:3], replace(work[3], trade="")))
    # Two ticks; three ticks; six ticks of which the last two come after the break; nobody's work.
    schedule = Schedule({"0": (0, 2), "1": (4, 7), "2": (16, 26), "3": (30, 31)})
    assert short_pieces(network, schedule) == 2


def test_an_inspector_waits_from_the_end_of_one_look_to_the_next_of_the_day():
    network = plain_network([1, 4, 1, 1], [])
    network = replace(network, activities=tuple(replace(a, kind=Kind.INSPECT) for a in network.activities))
    dates = {"0": (30, 31), "1": (28, 32), "2": (40, 41), "3": (96 + 30, 96 + 31)}
    first = Visit("v/1", "v", 28, 41, ("0", "1", "2"))
    schedule = Schedule(dates, (first, Visit("v/2", "v", 126, 127, ("3",))))
    assert longest_wait(network, schedule) == (40 - 32) * 15
    assert longest_wait(network, Schedule(dates)) == 0


def test_the_table_has_a_row_for_each_plan(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    class Search:
        def __init__(self, *_: object, **__: object) -> None:
            pass

        def looks(self):
            yield ()

    planned = small()
    monkeypatch.setattr("scheduler.plan", lambda *_: planned)
    monkeypatch.setattr("scheduler.ChoiceSearch", Search)
    assert main(["orchard-lane"]) == 0
    head, rule, plan, *_ = capsys.readouterr().out.splitlines()
    assert head.count("|") == rule.count("|") == plan.count("|") == len(HEAD) + 1
    assert plan.startswith("| aim after aim | ")
