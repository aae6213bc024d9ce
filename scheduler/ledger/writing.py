"""The one door for writing: what is not true on its face is refused, and what the program knows is filled in.

Every look and release is given what was seen, and by what right; every report of work, where it was done. So a later
change of the site file changes nothing of what was said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime

from scheduler.errors import BadInput
from scheduler.ledger.clearance import Clearance
from scheduler.ledger.contradictions import contradictions
from scheduler.ledger.corrections import may_correct
from scheduler.ledger.day_events import LineStruck, NotDone, TestFailed, TrenchInspected
from scheduler.ledger.event_fields import WORDS_AT_MOST, Fact, Seen
from scheduler.ledger.events import (
    Corrected,
    Event,
    Finished,
    HoldReleased,
    Inspected,
    PassStands,
    Refused,
    RemainingReported,
    Started,
    VisitBooked,
)
from scheduler.ledger.evidence import REPAIR
from scheduler.ledger.ground_events import StopWork, StopWorkLifted
from scheduler.ledger.known import KnownJob
from scheduler.ledger.plausible import Writing, faults_of, firm_of
from scheduler.ledger.repeated import said_already
from scheduler.ledger.rights import Permission, may_look, may_release, person_of
from scheduler.ledger.seen import Looking, work_place
from scheduler.ledger.store import MOVED_ON, Entry, Journal
from scheduler.ledger.timed import TimedEntry
from scheduler.network.model import Activity, Hold, Network
from scheduler.site.site_record import Site

TRIES = 5
"""How often an event is judged again where others write at the same moment."""


def write_down(
    journal: Journal, site: Site, network: Network, happened: Event, *, at: datetime | None = None, by: str
) -> Entry:
    """Add an event to the journal with what was seen, where, and by what right; or the refusal of a release.

    Returns the entry: its event is what was asked for, or a `Refused` that says why the person may not release that.
    Raises BadInput with every reason why it cannot be true, or is not theirs to say; then nothing is written.
    """
    return _written(journal, site, network, happened, at, by, once=False)[0]


def write_once(
    journal: Journal, site: Site, network: Network, happened: Event, *, at: datetime | None = None, by: str
) -> tuple[Entry, bool]:
    """Write an event down as `write_down` does, unless the same person has said just that already.

    Returns its entry, and whether that was on record before.
    """
    return _written(journal, site, network, happened, at, by, once=True)


def _written(
    journal: Journal, site: Site, network: Network, happened: Event, at: datetime | None, by: str, *, once: bool
) -> tuple[Entry, bool]:
    """Judge an event by the record and write it right after what it was judged by.

    Where somebody else wrote in between, from whatever program or server, it is judged again: a release is not written
    after a stop that it does not know of, and of two presses of one button the second is found.
    """
    for left in reversed(range(TRIES)):
        now, entries = at or datetime.now(UTC), journal.entries()
        before = said_already(entries, happened, at=now, by=by) if once else None
        if before is not None:
            return before, True
        said = as_written(Writing(site, network, entries, now, by, Looking.of(network)), happened)
        before = said_already(entries, said, at=now, by=by) if once and isinstance(said, Refused) else None
        if before is not None:
            return before, True
        try:
            return journal.append_all([said], at=at, by=by, after=entries[-1].number if entries else 0)[0], False
        except BadInput as bad:
            if not left or all(f.rule != MOVED_ON for f in bad.findings):
                raise
    raise AssertionError("the last try returns or raises")


def write_all(
    journal: Journal,
    site: Site,
    network: Network,
    happened: Sequence[Event],
    *,
    at: datetime | None = None,
    by: str,
    after: int | None = None,
) -> tuple[Entry, ...]:
    """Add reports of work in one go, all of them or none; `after`: only while that is the journal's last entry.

    Raises BadInput with every reason why any of them cannot be true; then nothing is written.
    """
    writing = Writing(site, network, journal.entries(), at or datetime.now(UTC), by, Looking.of(network))
    faults = [fault for event in happened for fault in faults_of(writing, event)]
    if faults:
        raise BadInput(list(dict.fromkeys(faults)))
    return journal.append_all([as_written(writing, event) for event in happened], at=at, by=by, after=after)


def contradicted(
    site: Site, network: Network, entries: Sequence[Entry], happened: Event, *, at: datetime, by: str
) -> tuple[str, ...]:
    """Return what an event would contradict on record, to be shown to its writer once before it is written down.

    Nothing where the writer says why it is so all the same (`despite`). Raises BadInput as `write_down` does.
    """
    writing = Writing(site, network, tuple(entries), at, by, Looking.of(network))
    as_written(writing, happened)
    if getattr(happened, "despite", "").strip():
        return ()
    return contradictions(site, network, writing.state, happened)


def as_written(writing: Writing, happened: Event) -> Event:
    """Return an event as it goes into the journal; a release that is not theirs to give as its refusal.

    Raises BadInput with every reason why it does not go there.
    """
    faults = faults_of(writing, happened)
    if faults:
        raise BadInput(faults)
    happened = _kept_despite(writing, happened)
    return _release(writing, happened) if isinstance(happened, HoldReleased) else _filled(writing, happened)


def _kept_despite(writing: Writing, happened: Event) -> Event:
    """Return an event with what it contradicts, where its writer was shown that and keeps it all the same."""
    if not isinstance(happened, Fact):
        return happened
    found = contradictions(writing.site, writing.network, writing.state, happened) if happened.despite.strip() else ()
    why = happened.despite.strip() if found else ""
    return happened.model_copy(update={"despite": why, "contradicts": " ".join(found)[:WORDS_AT_MOST]})


def _filled(writing: Writing, happened: Event) -> Event:
    """Return an event with what the program knows of it; what somebody else filled in there does not count."""
    match happened:
        case Started() | Finished() | RemainingReported() | TestFailed() | NotDone():
            return happened.model_copy(update={"work": _work(writing, happened.activity)})
        case VisitBooked():
            seen = [s for look in happened.looks for s in _seen(writing, look, None)]
            return happened.model_copy(update={"seen": tuple(seen)})
        case TrenchInspected():
            person = person_of(writing.site, happened.who)
            return happened.model_copy(update={"role": person.role if person else ""})
        case StopWork() | StopWorkLifted() | LineStruck():
            return happened.model_copy(update={"firm": firm_of(writing, happened.who)})
        case Corrected():
            rows = {e.number: e for e in writing.entries}
            own = may_correct(rows[happened.supersedes], rows, writing.by, contractor=False)
            return happened.model_copy(update={"right": "writer" if own else "contractor"})
    if isinstance(happened, Inspected | PassStands):
        seen = [s for look in happened.looks for s in _seen(writing, look, happened)]
        return happened.model_copy(update={"seen": tuple(seen), "firm": firm_of(writing, happened.inspector)})
    return happened


def _work(writing: Writing, id_: str) -> object:
    """Return where work is done; of the mending of what failed, the place of that look."""
    activity: Activity | None = writing.network.by_id.get(id_)
    if activity is None and id_.startswith(REPAIR):
        look = writing.network.by_id.get("look/" + id_.removeprefix(REPAIR).rpartition("/")[0])
        return None if look is None else work_place(look).model_copy(update={"kind": "repair"})
    return None if activity is None else work_place(activity)


def _seen(writing: Writing, look: str, happened: Inspected | PassStands | None) -> Iterator[Seen]:
    for hold in writing.looking.holds_of.get(look, ()):
        allowed = Permission(True, "")
        if happened is not None:
            allowed = may_look(writing.site, writing.network, hold, happened.inspector, happened.when)
        yield from writing.looking.seen(hold, allowed.right)


def _release(writing: Writing, asked: HoldReleased) -> HoldReleased | Refused:
    """Return a release with the look that it rests on and what that saw, or its refusal."""
    hold = next(h for h in writing.network.holds if h.id == asked.hold)
    person = person_of(writing.site, asked.person)
    assert person is not None
    allowed = may_release(writing.site, writing.network, hold, person, asked.when)
    if allowed.yes and asked.role != person.role:
        allowed = Permission(False, f"{person.name} is {person.role.replace('_', ' ')} here, not {asked.role}.")
    if not allowed.yes:
        return Refused(asked=asked.name, about=hold.id, who=person.id, reason=allowed.because)
    looks = Clearance(KnownJob(writing.site, writing.network, writing.state, asked.when)).passed(hold)
    given = {
        "rests_on": tuple(n.number for n in looks),
        "seen": tuple(s.model_copy(update={"right": allowed.right}) for s in _seen_by(writing, hold, looks)),
        "firm": person.of,
    }
    return asked.model_copy(update=given)


def _seen_by(writing: Writing, hold: Hold, looks: list[TimedEntry]) -> list[Seen]:
    """Return what looks saw of a hold: what was seen then, whatever the site file says by now."""
    inspection = writing.looking.looked_for(hold)
    about = {(p.alignment, p.line) for p in writing.looking.parts(hold)}
    inspected = [n.entry.event for n in looks if isinstance(n.entry.event, Inspected)]
    if not inspected:
        return list(writing.looking.seen(hold, ""))
    return [s for e in inspected for s in e.seen if s.inspection == inspection and (s.alignment, s.line) in about]
