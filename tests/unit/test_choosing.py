"""Plans to choose from: each whole and audited, none beaten, none cheaper than the cheapest, the same twice."""

from __future__ import annotations

import threading
from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

import scheduler
from scheduler import Case, ChoiceAim, PlanChoice
from scheduler.choice_search import LATER_DAYS
from scheduler.choosing import ChoiceMeasures, differs, measures, money_by_line, side_by_side
from scheduler.cli import main
from scheduler.plan import plan_json, plan_read, read_plan
from scheduler.solve.formulation.engine import Engine, SearchResult
from scheduler.solve.margin import MARGIN, MostMargin
from scheduler.solve.outcome import Options, Progress
from tests.benchmarks.choices_check import of_site
from tests.kept_plans import kept_choices
from tests.small_site import SMALL_SITE

QUICK = Options(start_effort=0.3, finish_effort=0.6, exposure_effort=0.8, money_effort=0.3, conflict_effort=0.1)
HASTY = replace(QUICK, start_effort=0.05, finish_effort=0.1, exposure_effort=0.02, money_effort=0.02)
"""Where any plans will do: half the work."""


@cache
def small() -> Case:
    return scheduler.load(SMALL_SITE)


def found(case: Case, options: Options = QUICK) -> list[tuple[PlanChoice, ...]]:
    return list(scheduler.choices(case, options))


@cache
def of_the_small_site() -> list[tuple[PlanChoice, ...]]:
    return kept_choices(small(), QUICK)


def text_of(choice: PlanChoice) -> str:
    """Return a plan as text, without the seconds that it took."""
    plan = choice.planned.plan
    timeless = [s.model_copy(update={"seconds": 0.0}) for s in plan.stages]
    return plan_json(plan.model_copy(update={"stages": timeless}))


def test_the_first_plan_comes_alone_and_stays_the_first():
    steps = of_the_small_site()
    assert len(steps[0]) == 1
    assert len(steps) == 5
    assert all(step[0].aims[0] is ChoiceAim.EARLIEST for step in steps)
    assert {aim for choice in steps[-1] for aim in choice.aims} == set(ChoiceAim)
    assert len(steps[-1]) > 1, "a test of nothing"


def test_every_choice_is_whole_audited_and_says_what_differs():
    for choice in of_the_small_site()[-1]:
        planned = choice.planned
        assert planned.broken == ()
        assert scheduler.audit(small(), plan_read(plan_json(planned.plan))) == []
        assert choice.measures == measures(planned)
        assert choice.measures.margin == planned.plan.margin_percent
        assert (choice.differs == "") == (ChoiceAim.EARLIEST in choice.aims)
        assert choice.differs.count("\n") == 0


def test_no_choice_is_beaten_and_none_is_better_at_an_aim_than_the_one_named_for_it():
    for step in of_the_small_site():
        ranks = [c.measures.ranked for c in step]
        assert len(set(ranks)) == len(ranks)
        assert not any(a.measures.beats(b.measures) for a in step for b in step)
        named = {aim: c.measures for c in step for aim in c.aims}
        assert named[ChoiceAim.MONEY].money == min(c.measures.money for c in step)
        assert named[ChoiceAim.TRENCH].ft_nights == min(c.measures.ft_nights for c in step)
        assert named[ChoiceAim.MARGIN].margin == max(c.measures.margin for c in step)
        assert named[ChoiceAim.EARLIEST].finish == min(c.measures.finish for c in step)
        comings = [c.measures.visits + c.measures.trips for c in step]
        assert named[ChoiceAim.VISITS].visits + named[ChoiceAim.VISITS].trips == min(comings)


def test_choices_are_the_same_twice():
    once, again = (found(scheduler.load(SMALL_SITE), HASTY) for _ in range(2))
    assert [[text_of(c) for c in step] for step in again] == [[text_of(c) for c in step] for step in once]
    assert [[c.differs for c in step] for step in again] == [[c.differs for c in step] for step in once]


def test_a_job_without_a_plan_gives_nothing_to_choose():
    first = of_the_small_site()[0][0].planned
    undated = replace(first, plan=first.plan.model_copy(update={"status": "infeasible"}), schedule=None)
    assert list(scheduler.choices(small(), QUICK, first=undated)) == []


def test_each_choice_says_who_has_margin_and_what_is_known_of_more():
    *_, found = of_the_small_site()
    first, wide = (next(c for c in found if aim in c.aims) for aim in (ChoiceAim.EARLIEST, ChoiceAim.MARGIN))
    assert "Everybody keeping their turn" in first.known
    assert first.said.endswith(first.known)
    assert wide.measures.margin > 0, "a test of nothing"
    for trade in small().site.trades:
        assert trade.name in wide.known
    assert "proved impossible" in wide.known or "not found" in wide.known or "not looked for" in wide.known
    assert all("Margin: " not in c.known for c in found if not c.measures.margin)
    borne = {c.name: c.planned.plan.margin.borne_percent for c in found if c.planned.plan.margin}
    rows = dict(zip(borne, side_by_side(found)[1:], strict=True))
    assert {name: row[-1] for name, row in rows.items()} == {name: f"{p} %" for name, p in borne.items()}


def test_where_no_margin_is_found_at_the_finish_that_is_said():
    case = scheduler.load(SMALL_SITE)
    search = scheduler.ChoiceSearch(case, QUICK, first=of_the_small_site()[0][0].planned)
    steps = search.looks()
    next(steps)
    finish = of_the_small_site()[0][0].measures.finish
    none = MostMargin(0, case.network, search._begun, 5, proved=True)
    for proved, words in ((True, "is proved impossible"), (False, "was looked for and not found")):
        search._tried = [(finish, replace(none, proved=proved))]
        (first,) = search.chosen()
        assert f"5 % by {case.network.clock.spoken(finish)} {words}." in first.known


def test_what_was_not_looked_for_as_somebody_stopped_is_not_said_to_be_not_found():
    stop = threading.Event()
    case, first = small(), of_the_small_site()[0][0].planned

    def at_once(at: Progress) -> None:
        if at.stage == MARGIN:
            stop.set()

    search = scheduler.ChoiceSearch(case, QUICK, first=first, progress=at_once)
    *_, found = search.looks(stop)
    assert stop.is_set(), "a test of nothing"
    assert not any("looked for and not found" in c.known or "impossible" in c.known for c in found)


def test_looking_on_takes_chance_numbers_of_its_own_each_turn(monkeypatch: pytest.MonkeyPatch):
    search, stop = scheduler.ChoiceSearch(small(), HASTY), threading.Event()
    asked: list[set[int]] = [set()]
    run = Engine.run

    def noted(engine: Engine, *given: Any, **more: Any) -> SearchResult:
        asked[-1].add(engine.options.seed + more.get("seed", 0))
        return run(engine, *given, **more)

    monkeypatch.setattr(Engine, "run", noted)
    list(search.looks())
    turns = search.keep_looking(stop)
    for _ in range(2):
        asked.append(set())
        for _ in range(4):
            next(turns)
    for i, j in combinations(asked, 2):
        assert i, "a test of nothing"
        assert not i & j


def test_a_first_plan_that_ends_later_than_it_must_is_no_start_for_the_earliest_finish():
    later = replace(HASTY, slack_days=3.0)
    search = scheduler.ChoiceSearch(small(), later)
    *_, found = search.looks()
    assert len(found) > 1
    assert all(scheduler.audit(small(), c.planned.plan) == [] for c in found)


def test_looking_on_begins_from_what_was_found_and_is_never_worse():
    without = replace(HASTY, free_margin=0)  # the bound of a plan with margin is none of plans without
    search, stop = scheduler.ChoiceSearch(small(), without), threading.Event()
    *_, found = search.looks()
    best = {aim: c.measures for c in found for aim in c.aims}
    bounds = dict(found[0].least_open)
    assert 0 < bounds[LATER_DAYS] <= best[ChoiceAim.TRENCH].ft_nights
    assert bounds[LATER_DAYS] <= bounds[0.0] <= found[0].measures.ft_nights
    assert "no plan with the earliest finish has less than" in scheduler.open_trench_known(found)
    looks = search.keep_looking(stop, workers=1)
    for _ in range(4):
        found = next(looks)
        now = {aim: c.measures for c in found for aim in c.aims}
        assert now[ChoiceAim.EARLIEST].finish == best[ChoiceAim.EARLIEST].finish
        assert now[ChoiceAim.TRENCH].ft_nights <= best[ChoiceAim.TRENCH].ft_nights
        assert now[ChoiceAim.MONEY].money <= best[ChoiceAim.MONEY].money
        assert now[ChoiceAim.MARGIN].margin >= best[ChoiceAim.MARGIN].margin
        assert all(scheduler.audit(small(), c.planned.plan) == [] for c in found)
        assert not any(a.measures.beats(b.measures) for a in found for b in found)
        assert all(bound >= bounds[days] for days, bound in found[0].least_open)
        best = now
    stop.set()
    assert list(looks) == []
    assert list(scheduler.ChoiceSearch(small(), QUICK).keep_looking(threading.Event())) == []


def test_the_sentence_says_what_is_gained_then_what_it_costs():
    network = small().network
    first = ChoiceMeasures(
        finish=2000, money=5000, ft_nights=900, unpaved=0, visits=9, trips=4, crew_days=20, moves=30, margin=0
    )
    fewer = replace(first, finish=2096, money=4360, visits=2)
    said = differs(network, fewer, first, [ChoiceAim.VISITS])
    assert said == "2 visits instead of 9: $640 less, 1 day later."
    wide = replace(first, margin=15, money=5020.0)
    assert differs(network, wide, first, [ChoiceAim.MARGIN]) == (
        "15 % more time for all own work: $20 more, the same finish."
    )


def test_one_plan_beats_another_only_if_it_is_as_good_in_everything():
    first = ChoiceMeasures(
        finish=2000, money=5000, ft_nights=900, unpaved=0, visits=9, trips=4, crew_days=20, moves=30, margin=0
    )
    assert replace(first, margin=5).beats(first)
    assert not first.beats(first)
    assert not replace(first, margin=5, visits=10).beats(first)


def test_the_command_shows_and_writes_every_choice_and_puts_one_in_force(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    quick = {
        name: getattr(HASTY, name) for name in ("start_effort", "finish_effort", "exposure_effort", "money_effort")
    }
    monkeypatch.setattr("scheduler.cli.commands.Options", lambda **more: Options(**quick, **more))
    site, out, journal = tmp_path / "small.yaml", tmp_path / "out", tmp_path / "journal.db"
    site.write_text(SMALL_SITE, encoding="utf-8")
    words = ["plan", str(site), "--out", str(out), "--choices", "--choose", "margin", "--journal", str(journal)]
    assert main([*words, "--by", "R. Sample", "--keep-looking", "0.01"]) == 0
    said = capsys.readouterr().out
    assert "Plans to choose from:" in said
    names = sorted(p.name for p in (out / "choices").iterdir())
    assert len(names) > 1
    assert "earliest" in names
    for name in names:
        plan = read_plan(out / "choices" / name / "plan.json")
        assert scheduler.audit(small(), plan) == []
        assert f"- {name}: " in said
    chosen = read_plan(out / "plan.json")
    assert chosen.margin_percent == max(read_plan(p / "plan.json").margin_percent for p in (out / "choices").iterdir())
    assert "In force: " in said
    with scheduler.journal(scheduler.load(site), str(journal)) as kept:
        assert scheduler.accepted_plan(kept, kept.entries()) == chosen
    assert main(words) == 2
    assert "A plan is in force already" in capsys.readouterr().err


def test_an_objective_gives_the_choice_that_is_best_at_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    site = tmp_path / "small.yaml"
    site.write_text(SMALL_SITE, encoding="utf-8")
    with pytest.raises(SystemExit):
        main(["plan", str(site), "--objective", "beauty"])
    assert "staged" in capsys.readouterr().err
    for wrong in ("-1", "soon", "nan", "100000"):
        with pytest.raises(SystemExit):
            main(["plan", str(site), "--keep-looking", wrong])
        assert "--keep-looking" in capsys.readouterr().err


def test_random_sites_give_plans_of_which_none_is_beaten_and_none_cheaper_than_the_cheapest():
    found = [of_site(number) for number in (3, 4)]
    assert [wrong for wrong, _ in found] == [[], []]
    assert max(plans for _, plans in found) > 1, "a test of nothing"


def test_the_lines_of_every_plan_add_up_to_its_money():
    found = of_the_small_site()[-1]
    lines = money_by_line(found)
    assert len(lines) > 3
    sums = [sum(amounts[i] for _, amounts in lines) for i in range(len(found))]
    assert sums == pytest.approx([c.measures.money for c in found], abs=0.02)
