"""The calls to make as people work through them: put together by person and day, and ticked off one by one."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from scheduler.situation.call_words import CallDue
from scheduler.situation.calls_due import calls_due
from scheduler.situation.job_facts import facts_at
from scheduler.situation.situation import Situation
from scheduler.spoken import moment


def calls_of(situation: Situation) -> tuple[CallDue, ...]:
    """Return the calls to make so that everybody comes as the plan in force says; none without a plan."""
    if situation.plan is None:
        return ()
    facts = facts_at(situation.site, situation.network, situation.state, situation.moment)
    return calls_due(facts, situation.plan)


def phone_calls(due: Iterable[CallDue], today: date) -> list[tuple[CallDue, ...]]:
    """Return calls put together: one to each person or office a day, what is overdue with what is due today."""
    together: dict[tuple[str, date], list[CallDue]] = {}
    for call in due:
        together.setdefault((call.to, max(call.by.date(), today)), []).append(call)
    return [tuple(calls) for calls in together.values()]


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
    """Say what came of a call so far: `No answer Tue 9 Mar 10:30.`; empty when nothing did."""
    if due.said_no:
        return due.said_no
    tried = [moment(c.when.astimezone(due.by.tzinfo)) for c in due.tries]
    return f"No answer {', '.join(tried)}." if tried else ""
