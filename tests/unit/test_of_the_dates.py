"""What the dates of a plan leave undone: ground without a ticket, ways left trenched outside their hours."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

import scheduler
from scheduler import Finding, Options
from scheduler.cli import printed
from scheduler.cli.main import main
from scheduler.network.derive import derive
from scheduler.of_the_dates import of_the_dates
from scheduler.schedule import Schedule
from scheduler.site.site_record import Site
from scheduler.trench.layout_check import check_layout
from tests.derived import Records, changed, record
from tests.small_site import SMALL_SITE_DATES, damaged


def drive(hours: str, at_night: str = "filled", **more: object) -> Site:
    access = {"what": "Shed drive", "closed_only": hours, "at_night": at_night, **more}
    return changed(lambda r: record(r, "reaches", "R2").update(access=access))


def told(site: Site, dug: datetime, filled: datetime, *, begins: datetime | None = None) -> tuple[Finding, ...]:
    """Return what is left undone when R2 is dug and filled at such times; the plan begins at its first day."""
    network = derive(site)
    if begins is not None:
        network = replace(network, data_date=network.clock.tick(begins))
    start, finish = network.clock.tick(dug), network.clock.tick(filled)
    dates = {"R2/dig": (start, start + 4), "R2/lifts": (finish - 4, finish)}
    found = of_the_dates(site, network, Schedule(dates, ()))
    return tuple(f for f in found if f.rule != "dates/joint-not-tested")


def june(day: int, hour: int) -> datetime:
    return datetime(2026, 6, day, hour)


def test_a_way_left_trenched_outside_its_hours_is_told_with_its_nights_and_hours() -> None:
    # Friday 19 June 2026 is a holiday; the crew comes Thursday and Monday. Thursday 09:00 to Monday 13:00 is 100 h,
    # of which 6 h on Thursday and 4 h on Monday are allowed.
    (found,) = told(drive("09:00-15:00"), june(18, 9), june(22, 13))
    assert found.rule == "dates/left-trenched"
    assert found.where == "Main run, 1+00 to 1+60"
    assert found.text == (
        "Shed drive stays trenched over 4 nights, Thu 18 Jun 15:00 to Mon 22 Jun 09:00: plates or a bridge are needed, "
        "or dig and fill it inside its hours."
    )
    assert found.found == "90 h open outside 09:00-15:00"


@pytest.mark.parametrize(
    ("hours", "dug", "filled", "expected"),
    [
        ("09:00-15:00", june(16, 9), june(16, 15), None),
        ("09:00-15:00", june(16, 9), june(17, 15), "18 h open outside 09:00-15:00"),
        ("00:00-24:00", june(16, 9), june(17, 15), None),
        ("00:00-24:00", june(18, 9), june(22, 13), "72 h open outside 00:00-24:00"),
        ("09:00-11:00", june(16, 9), june(16, 15), "4 h open outside 09:00-11:00"),
    ],
)
def test_hours_outside_are_counted(hours: str, dug: datetime, filled: datetime, expected: str | None) -> None:
    assert [f.found for f in told(drive(hours), dug, filled)] == ([expected] if expected else [])


@pytest.mark.parametrize(
    ("at_night", "severity", "text"),
    [
        (
            "plated",
            "note",
            "Shed drive is trenched over 4 nights, Thu 18 Jun 15:00 to Mon 22 Jun 09:00, under 3 steel plates: lifted "
            "from 09:00, set again by 15:00 each day.",
        ),
        (
            "fenced",
            "note",
            "Nobody passes Shed drive over 4 nights, Thu 18 Jun 15:00 to Mon 22 Jun 09:00: it is fenced and lit, as "
            "agreed.",
        ),
    ],
)
def test_plates_or_a_fence_over_a_way_at_night_are_told_with_what_they_cost(
    at_night: str, severity: str, text: str
) -> None:
    (found,) = told(drive("09:00-15:00", at_night), june(18, 9), june(22, 13))
    # 60 ft of way, a trench of 3 ft: three plates of 20 ft for 12 dollars each; or a fence on both sides at 0.30.
    assert (found.severity, found.text, found.found) == (severity, text, "4 nights, about 36 dollars each")
    assert found.rule == f"dates/{at_night}"


def test_only_what_still_lies_ahead_is_told_and_a_way_without_hours_never() -> None:
    (found,) = told(drive("09:00-15:00"), june(15, 9), june(17, 15), begins=june(16, 10))
    assert found.found == "18 h open outside 09:00-15:00"
    assert told(changed(), june(15, 9), june(24, 15)) == ()


def test_dates_far_past_the_days_laid_out_are_counted_to_the_last_of_them() -> None:
    found, long = told(drive("09:00-15:00"), june(15, 9), datetime(9000, 6, 15, 9))
    assert (found.rule, long.rule) == ("dates/left-trenched", "dates/open-long")
    assert "Sun 6 Sep 00:00" in found.text


def only_branch(r: Records) -> None:
    r["locate_tickets"][0]["alignments"] = ["B"]


def no_ticket(r: Records) -> None:
    r["locate_tickets"] = []


def not_needed(r: Records) -> None:
    no_ticket(r)
    for alignment in r["alignments"]:
        alignment["locate_not_needed"] = "New fill that we placed ourselves; nothing lies in it."


@pytest.mark.parametrize(
    ("change", "names"), [(only_branch, ["Main run"]), (no_ticket, ["Main run"]), (not_needed, [])]
)
def test_digging_where_no_ticket_covers_the_ground_is_told(change: Callable[[Records], None], names: list[str]) -> None:
    found = told(changed(change), june(15, 9), june(16, 13))
    assert [f.where for f in found] == names
    assert [f.where for f in check_layout(changed(change)) if f.rule == "locate-ticket"] == [
        f"{name}, 0+00 to 1+60" for name in names
    ] + (["Shed branch, 0+00 to 0+40"] if change is no_ticket else [])
    for finding in found:
        assert finding.rule == "dates/no-ticket"
        assert finding.severity == "stop"
        assert finding.text == "No locate ticket covers this ground: nobody digs there before one is clear."
        assert finding.found == "digging planned from Mon 15 Jun 09:00"


def test_a_plan_and_its_summary_say_both(tmp_path: Path) -> None:
    def both(r: Records) -> None:
        no_ticket(r)
        record(r, "reaches", "R2")["access"] = {"what": "Shed drive", "closed_only": "09:00-15:00"}
        r["limits"]["longest_open_nights"] = 90

    planned = scheduler.plan(scheduler.load(changed(both)), Options(only_finish=True, finish_effort=0.2))
    told_rules = {f.rule for f in planned.plan.findings if f.is_of_the_dates}
    assert told_rules == {"dates/no-ticket", "dates/plated", "dates/joint-not-tested"}
    summary = " ".join(printed.summary(planned, tmp_path).split())
    assert "What these dates leave undone:" in summary
    assert "nobody digs there before one is clear" in summary
    assert "Shed drive is trenched over" in summary
    assert "expected ." not in summary


def test_the_audit_of_dates_made_elsewhere_says_it_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = damaged(("\nlocate_tickets:\n  - id: T1\n", "\nlocate_tickets:\n  - id: T1\n    alignments: [M]\n"))
    site = tmp_path / "site.yaml"
    site.write_text(text, encoding="utf-8")
    main(["audit", str(site), str(SMALL_SITE_DATES)])
    said = " ".join(capsys.readouterr().out.split())
    assert "What these dates leave undone:" in said
    assert "Shed branch: No locate ticket covers this ground: nobody digs there before one is clear." in said


def old_passes(**inspection: object) -> list[Finding]:
    """Return what is told when R1 is seen on Monday 15 June and the stretch kept open is shaded on the 30th."""
    site = changed(lambda r: record(r, "inspections", "I1").update(inspection))
    network = derive(site)
    seen, shaded = network.clock.tick(june(15, 9)), network.clock.tick(june(30, 9))
    dates = {"look/I1/R1/L0": (seen - 2, seen), "R1:1/L0/shade": (shaded, shaded + 4)}
    return [f for f in of_the_dates(site, network, Schedule(dates, ())) if f.rule == "dates/old-pass"]


def test_a_pass_that_has_grown_old_where_a_stretch_is_kept_open_is_told() -> None:
    (found,) = old_passes(pass_valid_days=14)
    assert found.where == "R1, 0+00 to 0+06"
    assert found.found == "covered 15 days after the pass"
    assert found.required == "within 14 days elsewhere"
    assert "ask City of Sample whether it still stands" in found.text


@pytest.mark.parametrize(
    "inspection", [{}, {"pass_valid_days": 15}, {"pass_valid_days": 14, "pass_stands_while_kept_open": False}]
)
def test_a_pass_in_time_or_bound_to_be_is_not_told(inspection: dict[str, object]) -> None:
    assert old_passes(**inspection) == []


@pytest.mark.parametrize(
    ("limit", "second", "told"),
    [
        (1, (10, 15), "1 h 45 min"),  # seen from 8:00 to 8:30 and from 10:15 to 10:45
        (1.75, (10, 15), ""),
        (1, (9, 30), ""),
        (None, (10, 15), ""),
    ],
)
def test_an_inspector_who_waits_longer_than_the_limit_between_looks_is_told(
    limit: float | None, second: tuple[int, int], told: str
) -> None:
    site = changed(lambda r: record(r, "inspections", "I1").update(longest_wait_hours=limit))
    network = derive(site)
    tick = network.clock.tick
    starts = {
        "look/I1/R3/L0": june(17, 8),
        "look/I1/R1/L1": june(17, second[0]).replace(minute=second[1]),
        "look/I1/R2/L0": june(22, 10),
    }
    dates = {look: (tick(start), tick(start) + 2) for look, start in starts.items()}
    found = [f for f in of_the_dates(site, network, Schedule(dates, ())) if f.rule == "dates/long-wait"]
    assert [f.found for f in found] == ([f"{told} without a look"] if told else [])
    for finding in found:
        assert finding.text == f"City of Sample waits {told} between its looks of Wed 17 Jun 08:00-10:45."
        assert finding.required == "1 h or less, to go without a word"
        assert finding.source == "site file: inspections, I1: longest_wait_hours"
