"""Trench that may not stand open: over weeks in which nobody may work; what stands open for long has its reason."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import cache

import pytest

import scheduler
from scheduler import Options
from scheduler.audit import audit
from scheduler.ledger.events import Finished, Started
from scheduler.ledger.state import fold
from scheduler.measures import exposure
from scheduler.network.derive import derive
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.planning import Planned
from scheduler.schedule import Schedule
from scheduler.situation.job_facts import facts_at
from scheduler.situation.standing import standing
from scheduler.solve.run import solve
from tests.damaging import moved
from tests.derived import Records, changed, closed_for_a_season, network
from tests.happenings import entries

BAN = date(2026, 6, 19), date(2026, 11, 20)


@cache
def season() -> Network:
    """Return the small site with nobody at work from Friday 19 June to Friday 20 November."""
    return network(closed_for_a_season(*BAN))


def open_over(net: Network, schedule: Schedule, first: date, last: date) -> list[str]:
    """Return the stretches that stand open on some day between two."""
    begins, ends = (net.clock.tick(datetime.combine(d, datetime.min.time())) for d in (first, last))
    return [o.id for o in net.openings if schedule.dates[o.opens][0] < ends and schedule.dates[o.closes][1] > begins]


def test_nothing_is_dug_that_cannot_be_filled_before_a_season_in_which_nobody_works() -> None:
    net = season()
    found = solve(net)
    assert found.schedule is not None
    assert audit(net, found.schedule) == []
    assert open_over(net, found.schedule, *BAN) == []
    finish, exposed = found.stages[:2]
    assert finish.proved
    assert exposed.proved
    assert (
        exposure(net, found.schedule.dates) < 1000
    )  # the plan that was earliest by nine days left 94 ft for 160 nights


def test_the_audit_names_trench_left_open_over_the_season() -> None:
    net = season()
    free = solve(replace(net, kept_shut=()), Options(only_finish=True)).schedule
    assert free is not None
    left = open_over(net, free, *BAN)
    assert left[0] == "R1:1"
    found = audit(net, free)
    assert [f.rule for f in found] == [f"closed-weeks/{stretch}" for stretch in left]
    assert found[0].found == "open Thu 18 Jun 15:30 to Mon 23 Nov 07:00"
    assert found[0].required == "filled by Thu 18 Jun 15:30, or begun Mon 23 Nov 07:00 or later"
    assert "nobody may work there for more than 7 days on end" in found[0].text


def test_what_can_all_be_filled_before_the_season_is() -> None:
    found = solve(network(closed_for_a_season(date(2026, 6, 25), BAN[1])), Options(only_finish=True))
    assert found.schedule is not None
    assert found.stages[0].proved
    assert found.stages[0].value == pytest.approx(16.5729, abs=1e-3)


def _firm_in_the_season(r: Records) -> None:
    closed_for_a_season(date(2026, 6, 25), BAN[1])(r)
    r["bookings"][0].update(firm=True, start=datetime(2026, 6, 30, 9))


def test_where_it_cannot_be_kept_the_reasons_are_told_and_that_it_may_be_left_open_by_agreement() -> None:
    case = scheduler.load(changed(_firm_in_the_season))
    impossible = scheduler.plan(case, Options(only_finish=True, finish_effort=0.1))
    assert impossible.plan.status == "infeasible"
    said = [m.because for c in impossible.plan.conflicts for m in c.members]
    assert any("it is filled before, or dug after" in s for s in said)
    ways = [w.text for c in impossible.plan.conflicts for w in c.repairs]
    assert any(w.startswith("Agree to leave trench open then") and "closed_days_open" in w for w in ways)

    def allowed(r: Records) -> None:
        _firm_in_the_season(r)
        r["limits"]["closed_days_open"] = 200

    agreed = scheduler.plan(scheduler.load(changed(allowed)), Options(only_finish=True, finish_effort=0.5))
    assert agreed.plan.status != "infeasible"


@pytest.mark.parametrize(("days", "bound"), [(4, False), (6, False), (7, False), (8, True), (30, True)])
def test_only_more_days_on_end_than_the_site_allows_count(days: int, bound: bool) -> None:
    # Monday 15 June 07:00 until so many days have passed: a whole week is still not more than seven days.
    net = network(closed_for_a_season(date(2026, 6, 13), date(2026, 6, 13) + timedelta(days=days - 3)))
    assert bool(net.kept_shut) is bound


def test_what_already_stands_open_is_not_left_half_filled() -> None:
    def change(r: Records) -> None:
        closed_for_a_season(*BAN)(r)
        r["limits"]["open_trench_ft"] = 200  # the lines of R2 go on in both other reaches: all may stand open at once

    site = changed(change)
    net, when = derive(site), datetime(2026, 6, 17, 15, 30)
    at = net.clock.when(net.clock.tick(when))
    dug = (Started(activity="R2/dig", when=at - timedelta(hours=8)), Finished(activity="R2/dig", when=at))
    left = standing(facts_at(site, net, fold(entries((at, e) for e in dug)), at), ())
    (limit,) = [k for k in lower(left).links if k.record == "closed-weeks/R2"]
    assert (limit.before, limit.after) == ("R2/ribbon", "R2/lifts")
    found = solve(left, Options(only_finish=True))
    assert found.schedule is not None
    assert audit(left, found.schedule) == []
    begins, after = left.clock.tick(datetime(2026, 6, 18, 15, 15)), left.clock.tick(datetime(2026, 11, 23, 7))
    half = {"R2/ribbon": (begins, begins + 1), "R2/lifts": (after, after + left.by_id["R2/lifts"].work)}
    (broken,) = [f for f in audit(left, moved(found.schedule, half)) if f.rule == "closed-weeks/R2"]
    assert broken.found == "half filled Thu 18 Jun 15:30 to Mon 23 Nov 07:00"


def planned() -> Planned:
    def both(r: Records) -> None:
        r["limits"]["longest_open_nights"] = 6

    return scheduler.plan(scheduler.load(changed(both)), Options(only_finish=True, finish_effort=0.2))


def test_what_stands_open_for_long_is_told_with_what_keeps_it_open() -> None:
    told = [f for f in planned().plan.findings if f.rule == "dates/open-long"]
    assert told
    assert all("Nobody works there from" in f.text or "rests from" in f.text for f in told)
    waits = next(f for f in told if f.where == "Main run, 0+00 to 0+06")
    assert 'waits for "' in waits.text
    assert waits.required == "6 nights or fewer, to go without a word"
