"""Who is to be asked in writing for what: each appointment once, again when it changes, and called off when it is gone.

An appointment keeps its UID however often it changes; its SEQUENCE rises with each change (RFC 5546 section 2.1.4).
What was asked stands in the journal, so nothing is asked twice without saying so.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from scheduler.ledger.call_events import AskedInWriting
from scheduler.ledger.state import State
from scheduler.site.people import Person
from scheduler.situation.call_list import calls_of
from scheduler.situation.call_words import CallDue
from scheduler.situation.situation import Situation
from scheduler.situation.what_was_told import what_was_told

LEAST_MINUTES = 15
"""How long an appointment lasts at least in a calendar."""


@dataclass(frozen=True, slots=True)
class Invitation:
    """One appointment as somebody is asked for it now."""

    of: str
    """The id of an inspection, outside work or trade."""
    person: Person
    about: str
    """What it is for, in a few words."""
    uid: str
    sequence: int
    start: datetime
    finish: datetime
    activities: tuple[str, ...]
    called_off: bool = False
    was: datetime | None = None
    """The time that they know, where that changes."""

    def as_asked(
        self, when: datetime, *, means: Literal["mail", "text"] = "mail", sent: bool = False
    ) -> AskedInWriting:
        """Return the entry that says that they were asked at a moment."""
        to = self.person.mail if means == "mail" else self.person.phone
        return AskedInWriting(
            of=self.of, person=self.person.id, to=to, means=means, uid=self.uid, sequence=self.sequence,
            told_start=self.start, called_off=self.called_off, activities=self.activities, sent=sent, when=when,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class ToAsk:
    """Who is to be asked in writing at a moment, and who is not."""

    invitations: tuple[Invitation, ...]
    asked_before: tuple[AskedInWriting, ...]
    """What was asked already and is as it was; nobody has answered yet."""
    by_phone: tuple[CallDue, ...]
    """Calls to whoever cannot be asked in writing: the site file has no address of theirs."""


def all_asked(state: State) -> tuple[AskedInWriting, ...]:
    """Return everything that was asked in writing, in order."""
    return tuple(n.entry.event for n in state.counting if isinstance(n.entry.event, AskedInWriting))


def last_asked(asked: Iterable[AskedInWriting]) -> dict[str, AskedInWriting]:
    """Return how each appointment was asked for last, by its UID."""
    return {a.uid: a for a in asked}


def to_ask(
    situation: Situation,
    *,
    means: Literal["mail", "text"] = "mail",
    again: bool = False,
    calls: Sequence[CallDue] | None = None,
) -> ToAsk:
    """Return who is to be asked so that everybody comes as the plan in force says.

    Whoever said no is not asked again until a plan wants them at another time. `again`: what was asked already and not
    answered is asked once more, with the same number. `calls` are those to make, where they are known already.
    """
    live = {
        uid: a
        for uid, a in last_asked(all_asked(situation.state)).items()
        if not a.called_off and a.told_start > situation.moment
    }
    people = {p.name: p for p in situation.site.people}
    found: list[Invitation] = []
    before: list[AskedInWriting] = []
    by_phone: list[CallDue] = []
    used: set[str] = set()
    for call in calls_of(situation) if calls is None else calls:
        if call.kind not in ("new", "moved", "off"):
            continue
        known = _known(call, [a for uid, a in live.items() if uid not in used])
        used |= {known.uid} if known is not None else set()
        person = people.get(call.person)
        if call.said_no:
            continue
        if person is None or not _reached(person, means) or (call.now is None and known is None):
            by_phone.append(call)
        elif known is not None and not _changed(known, call):
            before.append(known)
            found += [_invitation(situation, call, person, known, known.sequence)] if again else []
        else:
            found.append(_invitation(situation, call, person, known, known.sequence + 1 if known else 0))
    left = [a for uid, a in live.items() if uid not in used and not _stands(situation, a)]
    by_id = {p.id: p for p in situation.site.people if _reached(p, means)}
    found += [_off(a, by_id[a.person]) for a in left if a.person in by_id and a.means == means]
    return ToAsk(tuple(found), tuple(before), tuple(by_phone))


def _reached(person: Person, means: Literal["mail", "text"]) -> str:
    return person.mail if means == "mail" else person.phone


def _known(call: CallDue, live: list[AskedInWriting]) -> AskedInWriting | None:
    """Return the invitation that a call is about: the one that shares most of its work."""
    about = {*call.activities, *call.was_for}
    shared = [(len(about & set(a.activities)), n, a) for n, a in enumerate(live) if a.of == call.of]
    count, _, best = max(shared, default=(0, 0, None), key=lambda row: row[:2])
    return best if count else None


def _changed(known: AskedInWriting, call: CallDue) -> bool:
    return known.told_start != call.now or set(known.activities) != set(call.activities)


def _stands(situation: Situation, asked: AskedInWriting) -> bool:
    """Tell whether what was asked needs no calling off: they agreed, or said no to that very time."""
    told = what_was_told(situation.site, situation.network, situation.state)
    tick = situation.network.clock.tick(asked.told_start)
    answered = [c for c in told.calls if c.of == asked.of and c.told_start == asked.told_start]
    refused = bool(answered) and answered[-1].answer == "refused"
    return refused or any(told.keeps(asked.of, a, tick) for a in asked.activities)


def _invitation(
    situation: Situation, call: CallDue, person: Person, known: AskedInWriting | None, sequence: int
) -> Invitation:  # fmt: skip
    uid = known.uid if known is not None else f"{secrets.token_hex(16)}@jointtrench"
    if call.now is None:
        assert known is not None
        return _off(known, person)
    assert situation.plan is not None
    ends = [a.finish for a in situation.plan.activities if a.id in call.activities]
    same_day = [t.astimezone(call.now.tzinfo) for t in ends if t.astimezone(call.now.tzinfo).date() == call.now.date()]
    finish = max([call.now + timedelta(minutes=LEAST_MINUTES), *same_day])
    was = known.told_start if known is not None else call.was
    was = None if was == call.now else was
    return Invitation(call.of, person, call.about, uid, sequence, call.now, finish, call.activities, was=was)


def _off(asked: AskedInWriting, person: Person) -> Invitation:
    start = asked.told_start
    finish = start + timedelta(minutes=LEAST_MINUTES)
    return Invitation(
        asked.of, person, "", asked.uid, asked.sequence + 1, start, finish, asked.activities, called_off=True
    )
