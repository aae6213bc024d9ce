"""One call to make: whom, about what, by when, what they know, and what is done if they say no."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from typing import Literal

from scheduler.ledger.call_events import AskedInWriting, Called
from scheduler.ledger.moments import said
from scheduler.network.hours import after_notice
from scheduler.network.model import Network
from scheduler.network.parties import Party
from scheduler.plan import Plan
from scheduler.site.site_record import Site
from scheduler.situation.comings import Coming, PlannedWork
from scheduler.situation.facts_records import JobFacts
from scheduler.situation.notice import CallDesk, last_call
from scheduler.situation.what_was_told import Arranged, WhatWasTold
from scheduler.spoken import moment

CallKind = Literal["new", "moved", "off", "release", "renewal"]


@dataclass(frozen=True, slots=True)
class CallDue:
    """A call to make, until the party agrees."""

    id: str
    kind: CallKind
    """'new': nobody told them yet; 'moved': they know another time; 'off': they are not needed any more."""
    of: str
    """Whom it concerns: the id of an inspection, outside work or trade; of a hold; of a locate ticket."""
    to: str
    """Whom to call: a person, the firm, and the telephone number, as far as the site file names them."""
    person: str
    """Empty where nobody is named."""
    phone: str
    about: str
    was: datetime | None
    """The time they know; None: they know of none."""
    now: datetime | None
    """The time wanted; None: they are not needed any more."""
    by: datetime
    """The last moment at which the call gives the notice asked for."""
    due_since: datetime | None
    """The same once it has passed; None while there is time."""
    in_notice: bool
    """Whether the time they know is given up inside the notice they ask for."""
    text: str
    """Whom to call about what, in a sentence or two."""
    if_no: str
    """What is done if somebody who knows another time says no."""
    activities: tuple[str, ...] = ()
    tries: tuple[Called, ...] = ()
    """Calls for that very time that nobody answered."""
    said_no: str = ""
    """What they said if they cannot come then: the plan must be made again, and no call is due before."""
    was_for: tuple[str, ...] = ()
    """What they know they come for then."""
    asked: AskedInWriting | None = None
    """How they were last asked in writing for that very time; None: they were not."""
    silent_minutes: int = 0
    """Their working time since they were asked."""
    on_record: bool = False
    """Whether `was` stands in the site file or the journal; else a plan alone let them expect it."""


@dataclass(frozen=True)
class Asking:
    """Everything a list of calls is made from."""

    site: Site
    network: Network
    """The network of the site file, not of what is left of a job."""
    facts: JobFacts
    told: WhatWasTold
    rows: list[PlannedWork]
    plan: Plan
    desk: CallDesk
    because: Mapping[str, str] = field(default_factory=dict)
    """Why the appointment of an activity cannot be kept, in a sentence."""

    @property
    def now(self) -> int:
        """The first tick that has not passed."""
        return self.facts.now

    def rows_of(self, party: Party) -> list[PlannedWork]:
        """Return the rows of a trade; where another firm took it over, from when on that firm comes."""
        taken = self.facts.state.taken_over.get(party.of)
        since = self.network.clock.tick(taken.since) if taken is not None else self.network.data_date
        return [r for r in self.rows if r.trade == party.of and (taken is None or r.span[0] >= since)]

    @cached_property
    def left(self) -> frozenset[str]:
        """What the plan holds that is neither done nor begun."""
        return frozenset(r.id for r in self.rows) - set(self.facts.done) - set(self.facts.begun)

    def floor(self, party: Party) -> int:
        """Return the first tick for which a party can be called now, by its notice."""
        tick = after_notice(self.network.clock, party.calendar, self.now, party.notice_days)
        return self.network.horizon if tick is None else tick


def new_call(asking: Asking, party: Party, coming: Coming, *, again: bool = False) -> CallDue:
    """Return the call to somebody who does not know yet that they are to come; a trade perhaps once more."""
    clock = asking.network.clock
    at = clock.when(coming.start)
    if party.trade:
        what = "work on site again from" if again else "first work on site"
        text = f"Call {party.contact}: {what} {clock.spoken(coming.start)} ({party.notice_said()})."
    else:
        text = f"Call {party.contact}: {party.about}, {party.asked(clock, coming.start)}"
        text += f" ({party.notice_said()})." if party.notice_days else "."
    id_ = f"call/{party.of}/{party.day_key(at)}"
    about = f"{party.who}, on site again" if again else party.about
    by = last_call(asking.desk, party.calendar, coming.start, party.notice_days)
    return _call(asking, party, CallDue(
        id_, "new", party.of, party.contact, party.person, party.phone, about, None, at,
        clock.when(by), None, False, text, "", coming.activities,
    ))  # fmt: skip


def moved_call(asking: Asking, party: Party, word: Arranged, coming: Coming, *, on_site: bool = False) -> CallDue:
    """Return the call to somebody who knows another time; who is on site already needs no notice."""
    clock, days = asking.network.clock, 0 if on_site else party.notice_days
    was, now = word.at.astimezone(clock.when(0).tzinfo), clock.when(coming.start)
    inside = word.first < asking.floor(party) and not on_site
    by = min(last_call(asking.desk, party.calendar, t, days) for t in (clock.tick(word.at), coming.start))
    known, wanted = _known(asking, party, word), party.asked(clock, coming.start)
    text = f"Call {party.contact}: {_about(party)}, {known}, now wanted {wanted}."
    late = next((asking.told.late[a] for a in coming.activities if a in asking.told.late), None)
    cannot = late is not None and clock.tick(late.not_before) > word.first
    if because := next((asking.because[a] for a in coming.activities if a in asking.because), ""):
        text += f" {because}"
    elif late is not None and cannot and late.not_before <= now:
        text += f" They said they cannot come before {said(clock, late.not_before)}."
    if inside and days:
        text += f" It gives up {party.notice_said()}."
    elif coming.start < asking.floor(party) and days:
        text += f" That is inside {party.notice_said()}."
    stands = "" if cannot or word.how == "expected" else f"{party.asked(clock, was)} stands: "
    if_no = f"If they say no, {stands}a plan is made again from that."
    return _call(asking, party, CallDue(
        f"move/{word.id}", "moved", party.of, party.contact, party.person, party.phone, party.about,
        was, now, clock.when(by), None, inside, text, if_no, coming.activities, was_for=word.activities,
        on_record=word.how != "expected",
    ))  # fmt: skip


def off_call(asking: Asking, party: Party, word: Arranged) -> CallDue:
    """Return the call to somebody who is not needed any more."""
    clock = asking.network.clock
    was = word.at.astimezone(clock.when(0).tzinfo)
    by = last_call(asking.desk, party.calendar, clock.tick(word.at), party.notice_days)
    inside = word.first < asking.floor(party)
    text = f"Call {party.contact}: {_about(party)}, {_known(asking, party, word)}, not needed any more."
    if inside and party.notice_days:
        text += f" It gives up {party.notice_said()}."
    return _call(asking, party, CallDue(
        f"off/{word.id}", "off", party.of, party.contact, party.person, party.phone, party.about,
        was, None, clock.when(by), None, inside, text, "", word.activities or party.activities,
        was_for=word.activities, on_record=word.how != "expected",
    ))  # fmt: skip


def _about(party: Party) -> str:
    return "work on site" if party.trade else party.about


def _known(asking: Asking, party: Party, word: Arranged) -> str:
    """Say what somebody knows: `booked Thu 18 Mar 08:00`."""
    when = party.asked(asking.network.clock, word.at)
    match word.how:
        case "booked":
            return f"booked {when}"
        case "agreed":
            return f"agreed for {when}"
        case "expected":
            return f"by the plan before {when} (no call on record)"


def _call(asking: Asking, party: Party, due: CallDue) -> CallDue:
    """Return a call with since when it is due, what was tried, and whether they said no to that time."""
    clock = asking.network.clock
    wanted = None if due.now is None else clock.tick(due.now)
    same = [
        c
        for c in asking.told.calls
        if c.of == party.of
        and (None if c.told_start is None else clock.tick(c.told_start)) == wanted
        and set(c.activities) & set(due.activities)
    ]
    no = ""
    if same and same[-1].answer == "refused":
        offers = f", offers {said(clock, same[-1].offers)}" if same[-1].offers else ""
        no = f"They said no {said(clock, same[-1].when)}{offers}. See what can be done: plan again from that."
    late = [asking.told.late[a] for a in due.activities if a in asking.told.late]
    if not no and due.now is not None and any(w.not_before > due.now for w in late):
        latest = max(w.not_before for w in late)
        no = f"They said they cannot come before {said(clock, latest)}. See what can be done: plan again from that."
    tries = tuple(c for c in same if c.answer in ("no_answer", "tentative"))
    asked = _in_writing(asking, due, wanted)
    silent = 0 if asked is None else party.calendar.open_ticks(clock.tick(asked.when), asking.now) * clock.tick_minutes
    return replace(due, due_since=since(asking, due.by), tries=tries, said_no=no, asked=asked, silent_minutes=silent)


def _in_writing(asking: Asking, due: CallDue, wanted: int | None) -> AskedInWriting | None:
    """Return how somebody was last asked in writing for what a call wants."""
    if wanted is None:
        return None
    same = [a for a in asking.told.asked if a.of == due.of and set(a.activities) & set(due.activities)]
    last = same[-1] if same else None
    return last if last and not last.called_off and asking.network.clock.tick(last.told_start) == wanted else None


def since(asking: Asking, by: datetime) -> datetime | None:
    """Return since when a call is overdue; None while there is time."""
    return by if by < asking.facts.as_of else None


def when_to_call(call: CallDue) -> str:
    """Say by when a call is made: `At once, due since Tue 9 Mar 15:30`, or `By Tue 9 Mar 15:30`."""
    return f"At once, due since {moment(call.due_since)}" if call.due_since else f"By {moment(call.by)}"
