"""Plans damaged one way at a time: each kind is named, with its place, what was found and what is required."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest

import scheduler
from scheduler import BadInput, Case, Finding, bundled_sites
from scheduler.cli import main
from scheduler.plan import plan_json, plan_read
from scheduler.solve.outcome import Options

Json = dict[str, Any]
QUICK = Options(start_effort=0.3, finish_effort=0.5, exposure_effort=0.1, money_effort=0.1)


@cache
def sound() -> tuple[Case, str]:
    """Return the small site with the text of a plan of it."""
    case = scheduler.load(bundled_sites()["orchard-lane"])
    return case, plan_json(scheduler.plan(case, QUICK, with_curve=True).plan)


def damaged(damage: Callable[[Json], object]) -> str:
    plan = json.loads(sound()[1])
    damage(plan)
    return json.dumps(plan)


def found_in(text: str) -> list[Finding]:
    """Return what an audit of a plan finds, or why it is refused."""
    case, _ = sound()
    try:
        return scheduler.audit(case, plan_read(text))
    except BadInput as refused:
        return list(refused.findings)


def moved(text: str, **by: float) -> str:
    return (datetime.fromisoformat(text) + timedelta(**by)).isoformat()


def row(plan: Json, id_: str) -> Json:
    return next(a for a in plan["activities"] if a["id"] == id_)


def gated(plan: Json) -> Json:
    """Return an activity that a hold point gates: it covers a loose end."""
    gates = {g for h in plan["holds"] for g in h["gates"]}
    return next(a for a in plan["activities"] if a["id"] in gates)


def _of_another(plan: Json) -> Json:
    """Return a visit for another inspection than the first one."""
    found: Json = next(v for v in plan["visits"] if v["inspection"] != plan["visits"][0]["inspection"])
    return found


def dig(plan: Json) -> Json:
    return next(a for a in plan["activities"] if a["kind"] == "dig")


def total(p: dict[str, Any]) -> float:
    return sum(line["amount"] for line in p["costs"]["lines"])


def stage(plan: Json, name: str) -> Json:
    return next(s for s in plan["stages"] if s["name"] == name)


def covered_twice(plan: Json) -> None:
    """Give a second copy of covering work, a day before its hold point is released; the last of the two is sound."""
    early = copy.deepcopy(gated(plan))
    early["start"], early["finish"] = (moved(early[edge], days=-1) for edge in ("start", "finish"))
    plan["activities"].insert(0, early)


def other_site(plan: Json) -> None:
    for a in plan["activities"]:
        a["id"] = "other/" + a["id"]


KINDS: dict[str, tuple[Callable[[Json], object], str, str]] = {
    # what is damaged: the damage, the rule that must be named, words that must stand in the finding
    "an activity twice, one copy covering early": (covered_twice, "plan/twice", "stands in the plan twice"),
    "an activity twice, the same": (lambda p: p["activities"].append(dig(p)), "plan/twice", "stands in the plan twice"),
    "a visit twice": (lambda p: p["visits"].append(p["visits"][0]), "plan/twice", "stands in the plan twice"),
    "a hold point twice": (lambda p: p["holds"].append(p["holds"][0]), "plan/twice", "stands in the plan twice"),
    "of another site": (other_site, "plan/site", "This plan is of another site"),
    "another site's name": (lambda p: p["site"].update(name="Elm Court"), "plan/site", "Found Elm Court"),
    "another time zone": (lambda p: p["site"].update(time_zone="Asia/Tokyo"), "plan/site", "Found Asia/Tokyo"),
    "no activities": (lambda p: p.update(activities=[]), "plan/dates", "no dates"),
    "a strange activity": (lambda p: dig(p).update(id="no-such"), "plan/site", "Found no-such"),
    "a strange hold point": (lambda p: p["holds"][0].update(id="no-such"), "plan/site", "Found no-such"),
    "a visit covers a strange hold point": (
        lambda p: p["visits"][0]["covers"].append("no-such"), "plan/site", "Found no-such",
    ),
    "finish too early": (lambda p: p.update(finish=moved(p["finish"], days=-1)), "plan/finish", "not when the last"),
    "no finish": (lambda p: p.update(finish=None), "plan/finish", "Found nothing"),
    "bound after the finish": (
        lambda p: p.update(finish_bound=moved(p["finish"], days=1)), "plan/bound", "said to be the earliest",
    ),
    "status infeasible": (lambda p: p.update(status="infeasible"), "plan/status", "Found infeasible"),
    "status unknown": (lambda p: p.update(status="unknown"), "plan/status", "Found unknown"),
    "status optimal, bound earlier": (
        lambda p: (
            p.update(status="optimal", finish_bound=moved(p["finish"], days=-2)),
            stage(p, "finish").update(proved=False, bound=stage(p, "finish")["value"] - 2, gap=None),
        ),
        "plan/status", "not proved",
    ),
    "status feasible, finish proved": (
        lambda p: (
            p.update(status="feasible"),
            stage(p, "finish").update(proved=True, bound=stage(p, "finish")["value"], gap=0.0),
        ),
        "plan/status", "not called so",
    ),
    "conflicts beside dates": (
        lambda p: p.update(conflicts=[{"id": "c", "members": []}]), "plan/status", "cannot hold together",
    ),
    "a line of the costs changed": (
        lambda p: (p["costs"]["lines"][0].update(amount=1.0), p["costs"].update(total=total(p))),
        "plan/costs", "does not cost that",
    ),
    "a sum that is none": (lambda p: p["costs"].update(total=7.0), "plan/costs", "not that of their lines"),
    "more longer work borne than there is room for": (
        lambda p: p["margin"].update(borne_percent=p["margin"]["borne_percent"] + 3),
        "plan/margin", "another percentage than said",
    ),
    "an earlier finish with longer work": (
        lambda p: p["margin"].update(longer_finish=p["data_date"]), "plan/margin", "at another time than said",
    ),
    "longer work told by another percentage": (
        lambda p: p["margin"].update(longer_percent=3), "plan/margin", "Found 3 %",
    ),
    "contingency that nobody has": (
        lambda p: p["margin"]["shares"][0].update(contingency_minutes=45), "plan/margin", "45 of",
    ),
    "no hold points": (lambda p: p.update(holds=[]), "plan/holds", "none of the site's hold points"),
    "hold points left out": (lambda p: p.pop("holds"), "plan/holds", "none of the site's hold points"),
    "a hold point missing": (lambda p: p["holds"].pop(3), "plan/holds", "is not in the plan"),
    "gates removed": (lambda p: p["holds"][0].update(gates=[]), "plan/holds", "gates nothing"),
    "gates left out": (lambda p: p["holds"][0].pop("gates"), "plan/holds", "gates nothing"),
    "another releaser": (lambda p: p["holds"][0].update(released_by="me"), "plan/holds", "released by me"),
    "a hold called a witness point": (lambda p: p["holds"][0].update(kind="wait"), "plan/holds", "kind wait"),
    "release before its look": (
        lambda p: p["holds"][0].update(planned_release=moved(p["holds"][0]["planned_release"], days=-1)),
        "plan/holds", "planned release",
    ),
    "from_ft": (lambda p: dig(p).update(from_ft=-3.0), "plan/work", "from ft -3.0"),
    "to_ft": (lambda p: dig(p).update(to_ft=1e300), "plan/work", "to ft 1e+300"),
    "reach": (lambda p: dig(p).update(reach="elsewhere"), "plan/work", "reach elsewhere"),
    "lines": (lambda p: dig(p).update(lines=["fibre"]), "plan/work", "lines fibre"),
    "kind": (lambda p: dig(p).update(kind="fill"), "plan/work", "kind fill"),
    "trade": (lambda p: dig(p).update(trade="florist"), "plan/work", "trade florist"),
    "layer": (lambda p: dig(p).update(layer=7), "plan/work", "layer 7"),
    "work minutes": (lambda p: dig(p).update(work_minutes=10**30), "plan/work", f"work minutes {10**30}"),
    "an activity missing": (lambda p: p["activities"].remove(dig(p)), "missing/", "has no dates"),
    "finish before start": (
        lambda p: dig(p).update(finish=moved(dig(p)["start"], hours=-1)), "work/", "finishes before it starts",
    ),
    "between two steps": (lambda p: dig(p).update(start=moved(dig(p)["start"], minutes=7)), "plan/time", "two steps"),
    "in the year 9999": (lambda p: dig(p).update(start="9999-12-31T23:45:00Z"), "plan/time", "no time of a job"),
    "an empty visit": (lambda p: p["visits"][0].update(covers=[]), "", "nothing to look at"),
    "a visit left out": (lambda p: p["visits"].pop(0), "", "is in no visit"),
    "a hold point in two visits": (
        lambda p: p["visits"][0]["covers"].extend(_of_another(p)["covers"]), "", "is not for the visit",
    ),
    "a look outside its visit": (
        lambda p: p["visits"][0].update(finish=p["visits"][0]["start"]), "", "not made while",
    ),
    "a visit of no inspection": (lambda p: p["visits"][0].update(inspection="none"), "unknown/", "of no inspection"),
    "another authority": (lambda p: p["visits"][0].update(authority="Me"), "plan/visits", "authority Me"),
    "a strange renewal": (lambda p: p.update(renewals=["no-such"]), "plan/site", "Found no-such"),
    "slack below none": (lambda p: dig(p).update(total_float_minutes=-15), "plan/slack", "less slack than none"),
    "more slack than there is": (
        lambda p: p["activities"][0].update(total_float_minutes=90000), "plan/slack", "90000",
    ),
    "the critical flag": (lambda p: dig(p).update(critical=not dig(p)["critical"]), "plan/slack", "critical"),
    "moves the finish": (
        lambda p: dig(p).update(moves_finish=not dig(p)["moves_finish"]), "plan/slack", "moves finish",
    ),
    "waits for what is not there": (
        lambda p: p["activities"][-1]["driven_by"].append({"kind": "logic", "ref": "", "because": "", "activity": "x"}),
        "plan/reason", "Found x",
    ),
    "days to the finish": (
        lambda p: stage(p, "finish").update(value=stage(p, "finish")["value"] + 5, proved=False, gap=None),
        "plan/aim", "not what the dates come to",
    ),
    "exposure": (
        lambda p: stage(p, "exposure").update(value=1.0, bound=1.0, proved=True, gap=0.0), "plan/aim", "Found 1",
    ),
    "money": (lambda p: stage(p, "money").update(value=0.0, bound=0.0, gap=0.0), "plan/aim", "The money is not"),
    "bound above the value": (
        lambda p: stage(p, "exposure").update(bound=stage(p, "exposure")["value"] + 10), "plan/aim", "least possible",
    ),
    "called proved": (
        lambda p: stage(p, "exposure").update(proved=True, bound=0.0, gap=0.0), "plan/aim", "called proved best",
    ),
    "the gap": (lambda p: stage(p, "exposure").update(gap=0.77), "plan/aim", "Found 77.0%"),
    "an amount that is no number": (
        lambda p: stage(p, "money").update(value=float("nan")), "plan/number", "stages.money.value",
    ),
    "an endless bound": (
        lambda p: stage(p, "money").update(bound=float("-inf")), "plan/number", "stages.money.bound",
    ),
    "a curve that begins before the bound": (
        lambda p: p["curve"][0].update(finish=moved(p["finish_bound"], days=-9)), "plan/curve", "earliest finish",
    ),
    "data date before the site's": (
        lambda p: p.update(data_date=moved(p["data_date"], days=-9)), "plan/data date", "before the site's",
    ),
}  # fmt: skip


def test_a_sound_plan_has_no_fault_and_keys_nobody_knows_say_nothing() -> None:
    assert found_in(sound()[1]) == []
    assert found_in(damaged(lambda p: (p.update(colour="red"), dig(p).update(mood="good")))) == []


def test_times_of_another_zone_are_the_same_times() -> None:
    def elsewhere(plan: Json) -> None:
        for a in plan["activities"]:
            a["start"] = datetime.fromisoformat(a["start"]).astimezone(tz=None).isoformat()

    assert found_in(damaged(elsewhere)) == []


def test_a_plan_made_before_a_key_was_added_is_sound_without_it() -> None:
    assert found_in(damaged(lambda p: [a.pop("moves_finish") for a in p["activities"]])) == []


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_of_damage_is_named_in_one_finding(kind: str) -> None:
    damage, rule, words = KINDS[kind]
    named = [f for f in found_in(damaged(damage)) if f.rule.startswith(rule) and words in str(f)]
    assert named, [str(f) for f in found_in(damaged(damage))]
    first = named[0]
    assert first.where
    assert first.found
    assert first.required


def test_a_plan_of_another_site_is_told_in_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "plan.json").write_text(sound()[1], encoding="utf-8")
    assert main(["audit", str(bundled_sites()["lantern-street"]), str(tmp_path / "plan.json")]) == 2
    err = capsys.readouterr().err
    assert err.count("This plan is of another site") == 1
    assert err.count("plan.json") == 1, err


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (lambda: sound()[1][:-300], "Invalid JSON"),
        (lambda: damaged(lambda p: p.update(version=2)), "version"),
        (lambda: damaged(lambda p: p.update(format="other")), "format"),
        (lambda: damaged(lambda p: dig(p).update(start="2027-03-08T09:00:00")), "timezone"),
        (lambda: damaged(lambda p: dig(p).update(start="soon")), "start"),
        (lambda: damaged(lambda p: dig(p).pop("finish")), "finish"),
        (lambda: damaged(lambda p: p.update(status="splendid")), "status"),
    ],
)
def test_a_file_that_is_no_plan_is_refused(
    text: Callable[[], str], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "plan.json").write_text(text(), encoding="utf-8")
    assert main(["audit", str(bundled_sites()["orchard-lane"]), str(tmp_path / "plan.json")]) == 2
    assert words in capsys.readouterr().err


def test_the_command_tells_an_activity_that_stands_twice(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "plan.json").write_text(damaged(covered_twice), encoding="utf-8")
    assert main(["audit", str(bundled_sites()["orchard-lane"]), str(tmp_path / "plan.json")]) == 2
    out, err = capsys.readouterr()
    assert "keep every rule" not in out
    assert gated(json.loads(sound()[1]))["id"] in err
