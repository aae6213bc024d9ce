"""What everybody who comes was told last: booked, called and agreed, or only expected by the plan before."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Literal

from scheduler.ledger.call_events import AskedInWriting, Called, ComingExpected
from scheduler.ledger.events import Delayed, PlanAccepted, VisitBooked, VisitCancelled, VisitConfirmed
from scheduler.ledger.state import State
from scheduler.ledger.trade_events import TakenOver
from scheduler.network.model import Network
from scheduler.network.parties import Party, parties_of, trade_parties
from scheduler.site.site_record import Site
from scheduler.situation.late_words import last_words
from scheduler.worktime.clock import Clock

How = Literal["booked", "agreed", "expected"]


@dataclass(frozen=True, slots=True)
class Arranged:
    """One coming as somebody knows it."""

    id: str
    """The booking's, or one made of the party and the time."""
    of: str
    """The id of an inspection, outside work or trade."""
    at: datetime
    """When they know they are to come."""
    first: int
    until: int
    """It is kept by work that starts in [first, until): for a visit anywhere in its window, for other work exactly."""
    activities: tuple[str, ...]
    """What they come for; empty: whatever of theirs stands then."""
    how: How
    """'expected': by a plan alone, with no call on record."""
    firm: bool = False
    confirmed: bool = False

    def holds(self, tick: int) -> bool:
        """Tell whether work that starts then keeps it."""
        return self.first <= tick < self.until


@dataclass(frozen=True)
class WhatWasTold:
    """What the site file and the journal say that the parties know, at a moment."""

    parties: tuple[Party, ...]
    """Inspections and outside work, then trades that are called."""
    arranged: tuple[Arranged, ...]
    """What stands, in the order in which it was said; of two words on one piece of work the later one alone."""
    calls: tuple[Called, ...] = ()
    """Every call, in order."""
    asked: tuple[AskedInWriting, ...] = ()
    """Whom was asked in writing for what, in order."""
    late: dict[str, Delayed] = field(default_factory=dict)
    """By activity, the last word that somebody cannot come before a moment."""

    def named(self, of: str, activity: str) -> Arranged | None:
        """Return the last word to a party on one piece of work; None where nothing names it."""
        found = [a for a in self.arranged if a.of == of and activity in a.activities]
        return found[-1] if found else None

    def open_ones(self, of: str) -> list[Arranged]:
        """Return what was arranged with a party without saying for what."""
        return [a for a in self.arranged if a.of == of and not a.activities]

    def keeps(self, of: str, activity: str, tick: int) -> bool:
        """Tell whether a party knows of a piece of work at that time, by a booking or a call on record."""
        named = self.named(of, activity)
        words = [named] if named is not None else self.open_ones(of)
        return any(w.holds(tick) and w.how != "expected" for w in words)


def what_was_told(site: Site, network: Network, state: State) -> WhatWasTold:
    """Return what everybody was told, by a site file, its own network, and what the journal says at a moment."""
    parties = (*parties_of(site, network), *_trades(site, network, state))
    book = _Book(network, {p.of: p for p in parties})
    for booking in network.bookings:
        of = next((p.of for p in parties if set(p.activities) & set(booking.activities)), "")
        at = network.clock.when(booking.at)
        book.add(booking.id, of, at, booking.activities, "booked", firm=booking.firm)
    asked: list[AskedInWriting] = []
    for noted in state.counting:
        book.read(noted.entry.event)
        if isinstance(noted.entry.event, AskedInWriting):
            asked.append(noted.entry.event)
        elif isinstance(noted.entry.event, TakenOver):  # the firm before was asked, not this one
            asked = [a for a in asked if a.of != noted.entry.event.trade]
    calls: list[Called] = []
    for word in state.words:
        if isinstance(word, Called):
            calls.append(word)
        elif isinstance(word, TakenOver):  # what the firm before answered binds nobody any more
            calls = [c for c in calls if c.of != word.trade]
    return WhatWasTold(
        parties, tuple(book.rows), tuple(calls), tuple(asked), last_words(site, network, state.words, begun=state.begun)
    )


def _trades(site: Site, network: Network, state: State) -> Iterator[Party]:
    """Yield the trades that are called; of one that left, the firm that took its work over, with its own notice."""
    for party in trade_parties(site, network, state.taken_over):
        taken = state.taken_over.get(party.of)
        if taken is None:
            yield party
            continue
        about = f"{taken.firm}, first day on site"
        yield replace(
            party, about=about, who=taken.firm, contact=taken.firm, person="", phone="", notice_days=taken.notice_days
        )


class _Book:
    """The appointments while the journal is read."""

    def __init__(self, network: Network, parties: dict[str, Party]) -> None:
        self.clock, self.parties = network.clock, parties
        self.rows: list[Arranged] = []

    def read(self, happened: object) -> None:
        """Take in one entry."""
        match happened:
            case VisitBooked():
                self._drop(happened.visit)
                self.add(
                    happened.visit, happened.of, happened.start, happened.looks, "booked", firm=happened.firm
                )  # fmt: skip
            case VisitConfirmed():
                self.rows = [replace(r, confirmed=True) if r.id == happened.visit else r for r in self.rows]
            case VisitCancelled():
                self._drop(happened.visit)
            case TakenOver():  # the new firm knows of nothing that the one before was told
                self.rows = [r for r in self.rows if r.of != happened.trade]
            case Called() if happened.answer == "agreed":
                self._agreed(happened)
            case PlanAccepted():
                for expected in happened.expected:
                    self._expected(expected)

    def add(self, id_: str, of: str, at: datetime, activities: Iterable[str], how: How, *, firm: bool = False) -> None:
        """Write down a coming; what was said before of the same work no longer counts.

        What is not booked has no id of its own: the day is added to `id_`.
        """
        party = self.parties.get(of)
        if party is None:
            return
        if not activities and len(party.activities) == 1 and not party.trade:
            activities = party.activities
        self._no_longer(of, tuple(activities))
        tick = self.clock.tick(at)
        name = id_ if how == "booked" else f"{id_}/{party.day_key(self.clock.when(tick))}"
        self.rows.append(arrangement(self.clock, name, party, tick, at, tuple(activities), how, firm=firm))

    def _drop(self, id_: str) -> None:
        self.rows = [r for r in self.rows if r.id != id_]

    def _no_longer(self, of: str, activities: tuple[str, ...]) -> None:
        """Take work out of what was said to a party before."""
        rows = []
        for row in self.rows:
            if row.of != of or not set(row.activities) & set(activities):
                rows.append(row)
            elif left := tuple(a for a in row.activities if a not in activities):
                rows.append(replace(row, activities=left))
        self.rows = rows

    def _agreed(self, call: Called) -> None:
        if call.was is not None:
            was, whole = self.clock.tick(call.was), self.parties.get(call.of)
            trade = whole is not None and whole.trade
            self.rows = [
                r for r in self.rows if r.of != call.of or self.clock.tick(r.at) != was or (r.activities and not trade)
            ]
        self._no_longer(call.of, call.activities)
        if call.told_start is not None:
            self.add(f"agreed/{call.of}", call.of, call.told_start, call.activities, "agreed")

    def _expected(self, expected: ComingExpected) -> None:
        """Take in what a plan before let somebody expect; what is on record with them stands against it."""
        of = expected.of
        self.rows = [
            r
            for r in self.rows
            if r.of != of or r.how != "expected" or not set(r.activities) & set(expected.activities)
        ]
        known = {a for r in self.rows if r.of == of for a in r.activities}
        if not known & set(expected.activities):
            self.add(f"expected/{of}", of, expected.start, expected.activities, "expected")


def arrangement(
    clock: Clock,
    id_: str,
    party: Party,
    tick: int,
    at: datetime,
    activities: tuple[str, ...],
    how: How,
    *,
    firm: bool = False,
) -> Arranged:
    """Return a coming of a party; an inspector keeps it at any time in the same window, or half of a day."""
    first, until = party.kept_in(clock, tick)
    return Arranged(id_, party.of, at, first, until, activities, how, firm)
