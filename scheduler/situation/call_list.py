"""The calls to make as people work through them: put together by person and day, and ticked off one by one."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from scheduler.situation.call_words import CallDue, when_to_call
from scheduler.situation.calls_due import calls_due
from scheduler.situation.job_facts import facts_at
from scheduler.situation.situation import Situation
from scheduler.situation.what_was_told import what_was_told
from scheduler.spoken import moment, working


def calls_of(situation: Situation) -> tuple[CallDue, ...]:
    """Return the calls to make so that everybody comes as the plan in force says; none without a plan."""
    if situation.plan is None:
        return ()
    facts = facts_at(situation.site, situation.network, situation.state, situation.moment)
    return calls_due(facts, situation.plan)


@dataclass(frozen=True, slots=True)
class PhoneCall:
    """One telephone call: all there is to say to one person or office on one day."""

    on: date
    """The day on which it is made: the last in time, or today if that has passed."""
    due: tuple[CallDue, ...]
    """What is said in it, the most urgent first."""

    @property
    def to(self) -> str:
        """Whom to call."""
        return self.due[0].to

    @property
    def about(self) -> tuple[str, ...]:
        """The activities that it is about."""
        return tuple(dict.fromkeys(a for c in self.due for a in c.activities))

    @property
    def when(self) -> str:
        """By when it is made, in words."""
        return when_to_call(self.due[0])

    @property
    def text(self) -> str:
        """Whom to call about what: `Call Tom Bell, Plumber (555-0112): ...`, each point numbered if there are some."""
        if len(self.due) == 1:
            return self.due[0].text
        points = (f"({n}) {about_what(c)}" for n, c in enumerate(self.due, 1))
        return f"Call {self.to}: {' '.join(points)}"

    @property
    def stands(self) -> str:
        """What came of it so far, and what is done if they say no."""
        return " ".join(dict.fromkeys(n for c in self.due if (n := how_it_stands(c) or c.if_no)))

    @property
    def said(self) -> str:
        """By when to call whom about what, in one paragraph."""
        inside = " [inside its notice]" if any(c.in_notice for c in self.due) else ""
        return f"{self.when}{inside}: {self.text} {self.stands}".rstrip()


def phone_calls(due: Iterable[CallDue], today: date) -> list[PhoneCall]:
    """Return calls put together: one to each person or office a day, what is overdue first, with what is due today.

    Whoever comes for several things on one day is called about all of them on the day of the first.
    """
    together: dict[tuple[str, date], list[CallDue]] = {}
    first: dict[tuple[str, date], date] = {}
    for call in sorted(due, key=lambda c: (c.by, c.id)):
        whom = f"{call.person}, {call.phone}" if call.phone else call.to
        on = max(call.by.date(), today)
        if call.now is not None:
            on = first.setdefault((whom, call.now.date()), on)
        together.setdefault((whom, on), []).append(call)
    return [PhoneCall(on, tuple(calls)) for (_, on), calls in together.items()]


def said_in_call(due: CallDue) -> dict[str, Any]:
    """Return the fields of a `called` entry that a call itself settles: whom, for when, in place of what, what for."""
    return {
        "of": due.of,
        "person": due.person,
        "told_start": due.now,
        "was": due.was,
        "activities": due.activities,
    }


def about_what(due: CallDue) -> str:
    """Return what is said in a call, for a list that says to whom beside it."""
    said = due.text.removeprefix(f"Call {due.to}: ")
    return said[:1].upper() + said[1:]


def ticked_off(due: CallDue) -> bool:
    """Tell whether a call's answer can be written down as such; a release has an entry of its own."""
    return due.kind != "release"


def how_it_stands(due: CallDue) -> str:
    """Say what came of a call so far: `No answer Tue 9 Mar 10:30.`, or since when nobody answers; or nothing."""
    if due.said_no:
        return due.said_no
    zone = due.by.tzinfo
    tried = [moment(c.when.astimezone(zone)) for c in due.tries if c.answer == "no_answer"]
    perhaps = [moment(c.when.astimezone(zone)) for c in due.tries if c.answer == "tentative"]
    said = [f"No answer {', '.join(tried)}."] if tried else []
    said += [f"Perhaps, they said {', '.join(perhaps)}."] if perhaps else []
    if due.asked is not None:
        asked, how = due.asked.when.astimezone(zone), "text" if due.asked.means == "text" else "mail"
        silent = f"silent since, {working(due.silent_minutes)} of their working time"
        heard = any(c.when >= due.asked.when for c in due.tries if c.answer == "tentative")
        said.append(f"Asked by {how} {moment(asked)}" + ("." if heard else f", {silent}."))
    return " ".join(said)


def agreed_ahead(
    situation: Situation, concerns: Callable[[str, str], bool] = lambda _of, _person: True
) -> tuple[str, ...]:
    """Say who agreed to come, and is still to come, the earliest first: `Thu 4 Mar 11:00: Tom Bell, Plumber (...)`.

    `concerns` tells, of a party's id and its person's name, whether they are told.
    """
    told = what_was_told(situation.site, situation.network, situation.state)
    tick = situation.network.clock.tick(situation.moment)
    parties = {p.of: p for p in told.parties}
    known = [a for a in told.arranged if a.how == "agreed" and a.until > tick and a.of in parties]
    known = [a for a in known if concerns(a.of, parties[a.of].person)]
    when = situation.network.clock
    return tuple(
        f"{parties[a.of].asked(when, a.at)}: {parties[a.of].contact}, {parties[a.of].about}"
        for a in sorted(known, key=lambda a: (a.at, a.of))
    )
