"""The next hours on site: who does what, and who is in whose way."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from scheduler.ledger.events import Started
from scheduler.network.kind import Kind
from scheduler.situation import HOURS, in_the_way, next_hours
from tests.unit.test_situation import after, by_plan, case, planned, stands


def test_the_next_hours_are_those_from_now_on_then_the_next_ones_with_work_and_end_with_the_work():
    work = [w for w in planned().plan.activities if w.work_minutes]
    first = min(work, key=lambda a: a.start)
    for before in (timedelta(hours=HOURS) / 2, timedelta(hours=HOURS) * 2, timedelta(days=2)):
        now = stands(by_plan(first.start - before), first.start - before)
        assert next_hours(now)[0].start == first.start, before
    last = max(a.finish for a in work)
    assert next_hours(stands(by_plan(last), last)) == ()


def test_the_swing_of_a_machine_is_told_with_who_waits_for_it_and_who_is_in_it_all_the_same():
    """29 CFR 1926.651(e): nobody under or within reach of what digs; how far that is, the site file says."""
    rooms = [s.occupants for s in case().network.spaces]
    work = {a.id: a for a in planned().plan.activities if a.work_minutes}

    def beside(id_: str) -> list[str]:
        near = {other for room in rooms if (id_, "machine") in room for other, group in room if group != "machine"}
        soon = work[id_].start + timedelta(hours=HOURS)
        return [o for o in near if o in work and work[id_].finish <= work[o].start < soon and work[o].trade]

    digs = [a for a in work.values() if any((a.id, "machine") in room for room in rooms)]
    dig, after_it = next((a, w) for a in digs for w in beside(a.id) if work[w].trade != a.trade)
    now = stands(by_plan(dig.start), dig.start)
    said = in_the_way(now, next_hours(now))
    assert any(s.startswith("Nobody within 20 ft of the machine at") for s in said)
    who = now.work[after_it].doer
    assert f"{who} waits until the machine is done there." in said
    entered = (
        (dig.start, Started(activity=after_it, when=dig.start)),
        (dig.start, Started(activity=dig.id, when=dig.start)),
    )
    there = stands(after(dig.start, *entered), dig.start + timedelta(minutes=1))
    assert f"{who} is within its swing: keep out, or stop the machine." in in_the_way(there, next_hours(there))
    quiet = next(a for a in work.values() if a.kind is Kind.LAY)
    before = min(a.start for a in work.values()) - timedelta(hours=2)
    empty = stands(by_plan(before), before)
    alone = replace(next_hours(empty)[0], work=empty.work[quiet.id])
    assert not [s for s in in_the_way(empty, (alone,)) if "machine" in s]
    begun = dig.start, Started(activity=dig.id, when=dig.start)
    overrun = stands(after(dig.start, begun), dig.finish + timedelta(days=1))
    assert dig.id not in {j.work.id for j in next_hours(overrun)}
    assert any(s.endswith("until it is reported finished.") for s in in_the_way(overrun, next_hours(overrun)))
