"""How the smallest conflicts are found, against answers that are known beforehand.

Whether some rules can hold together is decided here by a table of sets that cannot, instead of by counting
and searching, so that each answer can be worked out by hand.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable
from random import Random

import pytest

from scheduler.explain import conflicts as search
from scheduler.explain.conflicts import SEARCHES, RuleConflict
from scheduler.explain.possible import Care, PossiblePlan
from scheduler.network.model import DateRule, Link, Network
from scheduler.schedule import Schedule
from tests.jobs import at, job, task

Sets = Iterable[str]
COUNT = 8


def ruled(count: int = COUNT) -> Network:
    """Return a job of one task with so many date rules, '0', '1', ..., each with a sentence of its own."""
    return job(task("a"), dates=tuple(DateRule(str(n), "a", at(0, 8), because=f"Rule {n}.") for n in range(count)))


class Table:
    """Says of rules whether they can hold together: not when all the letters of a word in the table are among them."""

    def __init__(self, *words: str, least: Care = Care.QUICK, with_plans: bool = True) -> None:
        self.words, self.least, self.with_plans = words, least, with_plans
        self.asked: list[tuple[frozenset[str], Care]] = []
        self.questions: list[tuple[frozenset[str], object, Care]] = []
        """The same with the hours, which are a rule too."""
        self.tried: list[list[Schedule]] = []
        """Plans of earlier answers that were handed over with each question."""

    def __call__(self, network: Network, care: Care, plans: Iterable[Schedule], **_: object) -> PossiblePlan:
        kept = frozenset(d.id for d in network.dates)
        self.asked.append((kept, care))
        self.tried.append(list(plans))
        hours = tuple(network.calendars[a.calendar].windows for a in network.activities)
        self.questions.append((kept, hours, care))
        if any(kept.issuperset(word) for word in self.words):
            return PossiblePlan(None, impossible=care >= self.least)
        known = self.with_plans and care >= self.least
        return PossiblePlan(Schedule({"a": (0, len(self.asked))}) if known else None, impossible=False)


@pytest.fixture
def found(monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[RuleConflict]]:
    def ask(table: Table, network: Network | None = None, **how: object) -> list[RuleConflict]:
        monkeypatch.setattr(search, "possible", table)
        return search.conflicts(network or ruled(), **how)  # type: ignore[arg-type]

    return ask


def named(conflicts: list[RuleConflict]) -> list[str]:
    return ["".join(sorted(r.ref for r in c.rules)) for c in conflicts]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([], []),
        (["3"], ["3"]),
        (["07"], ["07"]),
        (["01234567"], ["01234567"]),
        (["12", "56"], ["12", "56"]),
        (["12", "23"], ["12", "23"]),
        (["67", "57", "56"], ["67", "57", "56"]),
        (["567", "467", "457", "456"], ["567", "467", "457"]),  # three at most, when nothing else is asked for
        (["13", "1345"], ["13"]),  # what holds a smaller one is none of its own
    ],
)
def test_each_conflict_is_one_of_the_smallest_sets_and_they_differ(found, words: list[str], told: list[str]) -> None:
    answer = found(Table(*words))
    assert len(answer) == len(told)
    assert set(named(answer)) <= set(words)
    assert len(set(named(answer))) == len(answer)
    assert all(c.minimal for c in answer)


@pytest.mark.parametrize("seed", range(30))
def test_whatever_cannot_hold_the_conflicts_told_are_smallest_sets(found, seed: int) -> None:
    rng = Random(seed)
    words = ["".join(sorted(rng.sample("01234567", rng.randint(1, 5)))) for _ in range(rng.randint(1, 4))]
    smallest = {w for w in words if not any(set(other) < set(w) for other in words)}
    answer = found(Table(*words), limit=rng.randint(1, 4))
    assert answer
    assert set(named(answer)) <= smallest
    assert len(set(named(answer))) == len(answer)
    assert all(c.minimal for c in answer)


@pytest.mark.parametrize("limit", [1, 2, 4])
def test_no_more_are_told_than_are_asked_for(found, limit: int) -> None:
    assert len(found(Table("567", "467", "457", "456"), limit=limit)) == limit


def test_what_is_only_not_shown_to_be_possible_is_not_called_minimal(found) -> None:
    (answer,) = found(Table("25", with_plans=False))
    assert named([answer]) == ["25"]
    assert not answer.minimal


def test_what_is_proved_already_is_told_whole_where_no_smaller_set_is_shown(found) -> None:
    never = Care.SEARCH + 1
    assert found(Table("25", least=never)) == []  # type: ignore[arg-type]
    (answer,) = found(Table("25", least=never), proved=True)  # type: ignore[arg-type]
    assert set("01234567") <= {r.ref for r in answer.rules}
    assert not answer.minimal


def test_a_conflict_that_only_a_search_shows_is_found_with_few_searches(found) -> None:
    table = Table("4", least=Care.SEARCH)
    (answer,) = found(table)
    assert "4" in named([answer])[0]
    searched = [kept for kept, care in table.asked if care is Care.SEARCH]
    assert len(searched) == SEARCHES
    assert len(set(table.questions)) == len(table.questions), "nothing is asked twice with the same care"
    shorter = Table("4", least=Care.SEARCH)
    (answer,) = found(shorter, ruled(4 + 1))
    assert named([answer]) == ["4"]


@pytest.mark.parametrize("core", [("2", "5"), ()], ids=["a proof that names rules", "no such proof"])
def test_what_a_solve_has_proved_impossible_is_never_left_without_a_reason(
    found, monkeypatch: pytest.MonkeyPatch, core: tuple[str, ...]
) -> None:
    """What counting and quick searches do not show is told by the rules that the proof needs, else by all of them."""
    monkeypatch.setattr(search, "conflict_core", lambda *_: [(name, "") for name in core] or None)
    never = Table("25", least=Care.SEARCH + 1, with_plans=False)  # type: ignore[arg-type]
    (only,) = found(never, proved=True)
    told = {r.because for r in only.rules}
    assert told >= {"Rule 2.", "Rule 5."}
    assert not only.minimal
    assert "Rule 1." not in told or not core
    assert found(never) == []


def test_what_one_answer_tells_is_not_asked_again(found) -> None:
    """More rules than some that cannot hold cannot either, and fewer than some that can hold can too."""
    table = Table("12", "56")
    found(table)
    for n, (kept, care) in enumerate(table.asked):
        earlier = [k for k, c in table.asked[:n] if c >= care]
        cannot = [k for k in earlier if any(k.issuperset(w) for w in table.words)]
        can = [k for k in earlier if k not in cannot]
        assert not any(k <= kept for k in cannot)
        assert not any(k >= kept for k in can)


def test_the_plans_of_the_last_answers_are_tried_on_each_new_question(found) -> None:
    table = Table("12", "56")
    found(table)
    made: list[Schedule] = []
    for n, (kept, _) in enumerate(table.asked, 1):
        assert table.tried[n - 1] == made[:5], "the latest first, five at most"
        if not any(kept.issuperset(word) for word in table.words):
            made.insert(0, Schedule({"a": (0, n)}))
    assert len(made) > 5


def test_given_work_is_blamed_only_when_it_alone_leaves_no_plan(found) -> None:
    circle = (Link("there", "a", "b", because="First a."), Link("back", "b", "a", because="First b."))

    def only_links(network: Network, *_: object, **__: object) -> PossiblePlan:
        return PossiblePlan(None if len(network.links) == 2 else Schedule({}), impossible=len(network.links) == 2)

    network = job(task("a"), task("b"), links=circle, dates=ruled().dates)
    (answer,) = found(only_links, network)  # type: ignore[arg-type]
    assert {r.kind for r in answer.rules} == {"order"}
    assert answer.minimal


def test_a_stop_ends_it_with_what_is_found_and_calls_nothing_unfinished_minimal(found) -> None:
    stop, told = threading.Event(), list[str]()

    def tell(words: str) -> None:
        told.append(words)
        if len(told) == 2:
            stop.set()

    table = Table("0")
    (answer,) = found(table, tell=tell, stop=stop)
    assert told == ["9 rules left that cannot all hold", "5 rules left that cannot all hold"]
    assert not answer.minimal
    assert "0" in named([answer])[0]


def test_it_says_how_many_rules_are_left_each_time_there_are_fewer(found) -> None:
    told: list[str] = []
    found(Table("7"), tell=told.append)
    numbers = [int(words.split()[0]) for words in told]
    assert numbers[0] == COUNT + 1  # and the hours of the crew
    assert numbers[-1] == 1
    assert numbers == sorted(set(numbers), reverse=True)
