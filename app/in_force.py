"""The plan to work by: the one accepted last, joined to the job as it stood then."""

from __future__ import annotations

from concurrent.futures import Future
from contextlib import closing

import streamlit as st
from pydantic import ValidationError

from app.answer import Answer
from app.jobs import Job
from app.live import Live
from scheduler import BadInput, Options, accept, as_accepted, put_in_force
from scheduler.plan import Plan, plan_read
from scheduler.replan import Alternative

KEPT = 16


def accept_plan(live: Live, alternative: Alternative, why: str) -> None:
    """Accept an alternative in the name of the person; raises BadInput when the journal cannot be written."""
    if live.person is None:
        raise ValueError("somebody must be chosen before a plan is accepted")
    at = live.moment if live.case.site.site.invented else None
    with closing(live.place.open()) as journal:
        accept(journal, alternative, by=live.person.name, at=at, why=why)


def put_first_in_force(live: Live, plan: Plan) -> None:
    """Put the plan shown in force in the name of the person; raises BadInput when the journal cannot be written."""
    if live.person is None:
        raise ValueError("somebody must be chosen before a plan is put in force")
    at = live.moment if live.case.site.site.invented else None
    with closing(live.place.open()) as journal:
        put_in_force(journal, plan, by=live.person.name, at=at, why="The first plan of this job.")


def in_force(live: Live) -> Job | None:
    """Return the accepted plan as a job that has ended; None when none was accepted, or for another site file."""
    plan = accepted_plan(live)
    if plan is None or live.known.plan is None or not live.case.made(plan):
        return None
    answer = _answer(live.place.record, str(live.case.path), live.known.plan.plan, live, plan)
    if answer is None:
        return None
    done: Future[None] = Future()
    done.set_result(None)
    return Job(live.case, Options(), answer=answer, settled=True, future=done)


def accepted_plan(live: Live) -> Plan | None:
    """Return the plan accepted last by the moment looked at; None when there is none or it cannot be read."""
    if live.fault is not None or live.known.plan is None:
        return None
    return _read(live.place.record, live.known.plan.plan, live)


# What begins with an underscore is no part of a cache's key.
@st.cache_resource(max_entries=KEPT, show_spinner=False)
def _read(where: str, digest: str, _live: Live) -> Plan | None:  # noqa: ARG001 - part of the key
    try:
        with closing(_live.place.open()) as journal:
            kept = journal.attachment(digest)
        return None if kept is None else plan_read(kept.content)
    except (BadInput, ValidationError):
        return None


@st.cache_resource(max_entries=KEPT, show_spinner=False)
def _answer(where: str, path: str, digest: str, _live: Live, _plan: Plan) -> Answer | None:  # noqa: ARG001 - part of the key
    accepted = _live.known.plan
    planned = as_accepted(_live.case, _live.entries, accepted, _plan) if accepted else None
    if planned is None:
        return None
    answer = Answer(planned)
    _ = answer.chains
    return answer
