"""Seasons: work that keeps out of some days by place, and trench that does not stand open in them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

import scenarios
import scheduler
from scheduler import BadInput, Case, Options, Planned
from scheduler.site.seasons import Season

STREET = (Path(scenarios.__file__).parent / "examples" / "street-crossing.yaml").read_text(encoding="utf-8")
IN_AUTUMN = (
    STREET.replace("2027-05-03 08:00", "2027-10-18 08:00")
    .replace("first_day: 2027-05-03", "first_day: 2027-10-18")
    .replace("  target_finish: 2027-06-30\n", "")
)
NO_ASPHALT = (
    "\nseasons:\n  - {id: winter, name: no hot asphalt, from: 11-01, to: 04-15, stops: [pave], surfaces: [asphalt]}\n"
)


def case(seasons: str, text: str = IN_AUTUMN) -> Case:
    return scheduler.load(text + seasons)


def solved(case: Case) -> Planned:
    planned = scheduler.plan(case, Options(only_finish=True))
    assert planned.schedule is not None
    assert planned.broken == ()
    return planned


def day_of(planned: Planned, activity: str) -> date:
    return next(a.start.date() for a in planned.plan.activities if a.id == activity)


def test_asphalt_waits_for_the_end_of_winter_and_its_temporary_paving_does_not() -> None:
    free, bound = solved(case("")), solved(case(NO_ASPHALT))
    assert date(2027, 11, 1) <= day_of(free, "street/pave") < date(2028, 4, 16), "the season would bite on nothing"
    assert day_of(bound, "street/pave") >= date(2028, 4, 16)
    assert day_of(bound, "street/restore") < date(2028, 4, 16)
    reason = " ".join(d.because for a in bound.plan.activities if a.id == "street/pave" for d in a.driven_by)
    assert "no hot asphalt, 1 Nov to 15 Apr" in reason
    (found,) = scheduler.audit(case(NO_ASPHALT), free.schedule)
    assert "outside its working hours (Site hours, no hot asphalt, 1 Nov to 15 Apr)" in found.text


def test_a_season_holds_only_where_and_in_what_it_says() -> None:
    elsewhere = NO_ASPHALT.replace("surfaces: [asphalt]", "reaches: [verge]")
    made = case(elsewhere)
    assert made.network.calendar_of("street/pave").id == case("").network.calendar_of("street/pave").id
    (note,) = (n.finding for n in made.network.notes if n.finding.rule == "season-idle")
    assert "holds nowhere" in note.text
    once = NO_ASPHALT.replace("11-01", "2031-11-01").replace("04-15", "2032-04-15")
    (note,) = (n.finding for n in case(once).network.notes if n.finding.rule == "season-idle")
    assert "holds on no day of this job" in note.text
    assert any("no hot asphalt" in q.text for q in case(once).looked.uncovered)


def test_no_trench_stands_open_in_a_season_that_says_so() -> None:
    free = solved(case(""))
    dug, filled = day_of(free, "verge/dig"), day_of(free, "verge/lifts")
    shut = (
        f"\nseasons:\n  - {{id: harvest, name: the drive stays free, from: {dug:%m-%d}, to: {filled:%m-%d}, "
        "stops: [open_trench], reaches: [verge]}\n"
    )
    bound = solved(case(shut))
    assert day_of(bound, "verge/dig") > filled
    (found,) = scheduler.audit(case(shut), free.schedule)
    assert found.text.startswith(
        "Trench stands open when it may not. No trench stands open here in these days: the drive"
    )


def test_what_cannot_be_done_for_a_season_names_it_and_a_way_out() -> None:
    planned = scheduler.plan(
        case(NO_ASPHALT, IN_AUTUMN.replace("  frost_depth_in", "  target_finish: 2027-12-17\n  frost_depth_in"))
    )
    assert planned.plan.status == "infeasible"
    told = " ".join(m.because for c in planned.plan.conflicts for m in c.members)
    assert "no hot asphalt, 1 Nov to 15 Apr" in told
    ways = [r.text for c in planned.plan.conflicts for r in c.repairs]
    assert any(w.startswith("Agree work in spite of a season on 1 day") and "no hot asphalt" in w for w in ways)


@pytest.mark.parametrize(
    ("first", "last", "said", "spans"),
    [
        ("11-01", "04-15", "1 Nov to 15 Apr", [("2027-11-01", "2028-04-15")]),
        ("05-01", "05-31", "1 May to 31 May", [("2028-05-01", "2028-05-31")]),
        ("2028-02-29", "2028-03-01", "Tue 29 Feb 2028 to Wed 1 Mar 2028", [("2028-02-29", "2028-03-01")]),
        ("2031-01-01", "2031-02-01", "Wed 1 Jan 2031 to Sat 1 Feb 2031", []),
    ],
)
def test_a_season_comes_every_year_or_once(first: str, last: str, said: str, spans: list[tuple[str, str]]) -> None:
    season = Season.model_validate({"id": "s", "name": "shut", "from": first, "to": last, "stops": ["dig"]})
    assert season.said == f"shut, {said}"
    found = [(str(a), str(b)) for a, b in season.spans(date(2027, 10, 1), date(2028, 6, 30))]
    assert found == spans


@pytest.mark.parametrize(
    ("season", "told"),
    [
        ("from: 11-01, to: 2028-04-15", "One end comes every year and the other once"),
        ("from: 2028-04-15, to: 2028-04-01", "It ends before it begins."),
        ("from: 13-01, to: 04-15", "There is no such day."),
        ("from: 9999-11-01, to: 9999-12-01", "The year must lie between"),
        ("from: 0000-01-01, to: 2028-02-01", "There is no such day."),
        ("from: \u0661\u0661-01, to: 04-15", "expected a day of every year such as 11-01"),
        ("from: winter, to: 04-15", "expected a day of every year such as 11-01"),
    ],
)
def test_a_season_that_says_no_days_is_refused(season: str, told: str) -> None:
    with pytest.raises(BadInput) as refused:
        case(f"\nseasons:\n  - {{id: s, name: shut, {season}, stops: [dig]}}\n")
    assert any(told in str(f) for f in refused.value.findings)


def test_a_season_of_a_reach_that_is_none_is_refused() -> None:
    with pytest.raises(BadInput) as refused:
        case(NO_ASPHALT.replace("surfaces: [asphalt]", "reaches: [stret]"))
    assert any("stret" in str(f) for f in refused.value.findings)
