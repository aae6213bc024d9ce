"""After a failed look or test: mend it, test it again, look at it again. What of that is open again.

The same activity is opened again, with its own id, links, room and people; no second one is made.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from scheduler.ledger.known import KnownJob
from scheduler.ledger.mending import mended_at, mended_since_test
from scheduler.ledger.moments import said
from scheduler.network.model import Activity, LinkType, Network
from scheduler.situation.facts_records import START_AFTER, Begun, Failed, JobFacts, remaining_ticks
from scheduler.spoken import working_hours


def open_again(facts: JobFacts) -> None:
    """Open the tests of what is mended, and the looks that a failed test makes worthless."""
    for failed in facts.failed.values():
        activity = facts.network.by_id[failed.activity]
        mended = _mended(facts, failed)
        if activity.kind.is_test:
            _look_again(facts, failed, activity)
        tests = [t for t in _tests_of(facts, failed, mended) if _opened(facts, t, mended)]
        facts.tested_again[failed.activity] = tuple(tests)
        for test in tests:
            when = said(facts.network.clock, failed.last.when)
            facts.again.setdefault(test, f"{activity.name} failed {when}: what is fixed is tested again.")
    _test_again(facts)


def steps_again(facts: JobFacts, id_: str) -> tuple[str, ...]:
    """Return what is still to be done, in order, before what failed or is made again counts as passed."""
    activity, steps = facts.network.by_id[id_], list[str]()
    failed = facts.failed.get(id_)
    if failed is not None and mended_at(facts.state, activity, failed.last.when, facts.as_of) is None:
        hours = failed.last.repair_hours
        steps.append(f"fix it ({working_hours(hours)})" if hours > 0 else "fix what was wrong")
    tests = [t for t, looks in facts.looked_again.items() if id_ in looks and t not in facts.done]
    tests = list(dict.fromkeys([*facts.tested_again.get(id_, ()), *tests]))
    steps += [f"make {facts.network.by_id[t].name} again" for t in tests]
    if not activity.kind.is_test:
        return (*steps, "look at it again")
    looks = (facts.network.by_id[k].name for k in facts.looked_again.get(id_, ()))
    return (*steps, "test it again", *(f"look again: {name}" for name in looks))


def _test_again(facts: JobFacts) -> None:
    """Open the tests that were made before something was mended, whatever it was mended for, and the looks after."""
    known = KnownJob(facts.site, facts.network, facts.state, facts.as_of)
    for test in (a for a in facts.network.activities if a.kind.is_test and a.kind.needs_open_trench):
        if test.id not in facts.done or test.id in facts.failed:
            continue
        mended = mended_since_test(known, test)
        if mended is None:
            continue
        del facts.done[test.id]
        when = said(facts.network.clock, mended)
        facts.again.setdefault(test.id, f"Something was fixed there {when}: it is tested again.")
        because = f"What was fixed {when} is tested again, and then looked at again."
        facts.looked_again[test.id] = tuple(_reopen_looks(facts, test, because))


def _mended(facts: JobFacts, failed: Failed) -> datetime:
    """Return when it was reported mended; the moment at hand where that is not on record and there is work to it."""
    activity = facts.network.by_id[failed.activity]
    known = mended_at(facts.state, activity, failed.last.when, facts.as_of)
    if known is not None:
        return known
    return facts.as_of if failed.last.repair_hours > 0 else failed.last.when


def _opened(facts: JobFacts, test: str, since: datetime) -> bool:
    """Take what was done of a test by a moment as not done; tell whether any of it is still to do."""
    known, activity = facts.state.actual(test), facts.network.by_id[test]
    if known.finish is not None and since < known.finish <= facts.as_of:
        return False
    facts.done.pop(test, None)
    facts.begun.pop(test, None)
    if known.start is not None and since <= known.start <= facts.as_of:
        facts.begun[test] = Begun(known.start, remaining_ticks(facts, activity, known.start))
        facts.notes[:] = [n for n in facts.notes if not n.startswith(f"{activity.name}: {START_AFTER}")]
    return True


def _look_again(facts: JobFacts, failed: Failed, test: Activity) -> None:
    """Let what was looked at before the test failed be looked at again: it is mended since."""
    when = said(facts.network.clock, failed.last.when)
    because = f"{test.name} failed {when}: what is fixed is looked at again."
    facts.looked_again[test.id] = tuple(_reopen_looks(facts, test, because, until=failed.last.when))


def _reopen_looks(facts: JobFacts, test: Activity, because: str, *, until: datetime | None = None) -> list[str]:
    """Let the looks at what is tested again be made again, those made after a moment excepted, and return them."""
    found = []
    for id_ in (look for rule in facts.network.visit_rules for look in rule.looks):
        look, seen = facts.network.by_id[id_], facts.done.get(id_)
        if not facts.state.looks.get(id_) or (until is not None and seen is not None and seen.finish > until):
            continue
        if not _same_work(test, look) or _covered_between(facts.network, test.id, id_):
            continue
        found.append(id_)
        if facts.done.pop(id_, None) is not None:
            facts.again[id_] = because
        for hold in [h for h, point in facts.unreleased.items() if point.hold.look == id_]:
            del facts.unreleased[hold]
    return found


def _tests_of(facts: JobFacts, failed: Failed, mended: datetime) -> list[str]:
    """Return the tests of what failed: those it comes after, and those of the same lines made before the mending."""
    network, activity = facts.network, facts.network.by_id[failed.activity]
    if activity.kind.is_test:
        return []
    before = [t for t in _before(network, activity.id) if network.by_id[t].kind.is_test]
    found = [t for t in before if not network.by_id[t].lines or set(network.by_id[t].lines) & set(activity.lines)]
    for other in network.activities:
        done = facts.done.get(other.id)
        tested = other.kind.is_test and other.kind.needs_open_trench
        if tested and done is not None and done.finish <= mended and _same_work(other, activity):
            found.append(other.id)
    return list(dict.fromkeys(found))


def _same_work(one: Activity, other: Activity) -> bool:
    """Tell whether two activities are about the same lines in the same ground; no reach: the lines as a whole."""
    if not set(one.lines) & set(other.lines):
        return False
    if not one.reach or not other.reach:
        return True
    return one.reach == other.reach and one.from_ft < other.to_ft and other.from_ft < one.to_ft


def _before(network: Network, activity: str) -> Iterator[str]:
    """Yield what comes before an activity, back to what others do and to what covers: that is another matter."""
    waits: dict[str, list[str]] = {}
    for link in network.links:
        if link.type is LinkType.FS and not link.at_most:
            waits.setdefault(link.after, []).append(link.before)
    fresh, seen = [activity], {activity}
    while fresh:
        for id_ in waits.get(fresh.pop(), ()):
            kind = network.by_id[id_].kind
            if id_ not in seen and not kind.by_others and not kind.covers:
                seen.add(id_)
                fresh.append(id_)
                yield id_


def _covered_between(network: Network, test: str, look: str) -> bool:
    """Tell whether a look is at the cover over what is tested: the look comes after, but not without covering."""
    return test not in set(_before(network, look)) and any(
        network.by_id[k.before].kind.covers for k in network.links if k.after == look and not k.at_most
    )
