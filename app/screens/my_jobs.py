"""Jobs, on a served dashboard: those of whoever is here, how each stands, and beginning, copying and archiving one."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from urllib.parse import quote
from zoneinfo import ZoneInfo

import streamlit as st

from app.components.form_new import ask_start, start_said
from app.components.show_faults import list_faults, show_not_done
from app.in_force import accepted_plan
from app.live import Live
from app.reading import read
from app.served.own_jobs import OwnJob, archive, begin, copy, may_write_here, own_jobs, take_back
from app.served.visitors import archived_here
from app.words import count, escape, html_escape
from scheduler import BadInput, Case
from scheduler.ledger import place_of
from scheduler.spoken import short_day

TEMPLATE = "house-service"
"""What a job is begun from here: whole at once, for nobody edits a site file on a served dashboard."""
BEGUN = "job just begun"
"""Where a session keeps what it began last: its site, its name, and of what it is a copy."""


def show() -> None:
    """Show every job of whoever is here, with what they may do with it."""
    st.title("Jobs")
    jobs = own_jobs()
    st.caption("The jobs whose links you opened here. On another one? Open your link to it here too; both stay.")
    _say_begun()
    try:
        for job in jobs:
            if job.archived is None:
                _job(job)
        _begin(jobs)
        _archived([job for job in jobs if job.archived is not None])
    except BadInput as bad:
        show_not_done(bad, "Nothing was done.")


def show_archived() -> None:
    """Show, in place of every page of an archived job, that it is archived, and where else to go."""
    st.title("This job is archived")
    found = archived_here()
    jobs = own_jobs()
    if found is not None:
        known, person, since = found
        job = next((j for j in jobs if j.site == known.site), None)
        name = f"{escape(job.case.site.site.name)}: archived" if job and job.case else "Archived"
        st.write(f"{name} since {_day(job, since.at)}, by {escape(since.by)}. Nothing of it is shown or written down.")
        if job is not None and job.runs_it:
            st.write("Its file and its record are kept as they are. Taken back, it goes on as before.")
            _press("Take it back", f"take-back-{known.site}", partial(take_back, known.site))
        else:
            st.write(f"{escape(person.name)}, ask the contractor if it should be open.")
    others = [job for job in jobs if job.archived is None]
    if others:
        st.write("Your other jobs:")
    for job in others:
        _job(job)


def _job(job: OwnJob) -> None:
    with st.container(border=True, key=f"job-{job.site}"):
        here = " (open now)" if job.here and job.archived is None else ""
        st.markdown(f"**{escape(_name(job))}**{here}  \n{_about(job)}  \n{_stands(job)}")
        if job.fault is not None:
            _show_fault(job, job.fault)
            return
        with st.container(horizontal=True, vertical_alignment="center"):
            if not job.here:
                _way(job.site, _name(job))
            if job.runs_it:
                with st.popover("Archive", icon=":material/archive:", key=f"ask-archive-{job.site}"):
                    st.write(
                        "It leaves everybody's list, links to it open nothing, its calendars say that it is archived, "
                        "and nobody can write anything down. Nothing is deleted: you can take it back on this page."
                    )
                    _press("Archive this job", f"archive-{job.site}", partial(archive, job.site))


def _show_fault(job: OwnJob, bad: BadInput) -> None:
    if job.person.role == "general_contractor":
        list_faults(bad)
        st.write("It is put right in the site file, on the server; then the job opens again by itself.")
    else:
        st.write("Ask the contractor.")


def _about(job: OwnJob) -> str:
    role = f"you: {job.person.role.replace('_', ' ')}"
    if job.case is None:
        return role
    site = job.case.site
    where = ", ".join(filter(None, (site.site.state, site.site.country)))
    return f"{escape(where)}; {count(len(site.people), 'person', 'people')}; {role}"


def _stands(job: OwnJob) -> str:
    """Say in one line how a job stands."""
    if job.case is None:
        return "Its file cannot be read just now, so nobody can open it."
    try:
        return _by_record(job.case)
    except (BadInput, OSError):
        return "**Its record cannot be read just now: do not cover anything there.**"


def _by_record(case: Case) -> str:
    place, zone = place_of(case.site, case.path), ZoneInfo(case.site.site.time_zone)
    entries = read(place)
    live = Live(case, place, entries, datetime.now(UTC).astimezone(zone), None)
    record = "nothing on record yet"
    if entries:
        record = (
            f"{count(len(entries), 'entry', 'entries')} on record, the last on {short_day(live.local(entries[-1].at))}"
        )
    plan = accepted_plan(live)
    if plan is None or plan.finish is None:
        return f"No plan is in force yet; {record}."
    if not case.made(plan):
        return f"Its site file was changed since its plan was put in force; {record}."
    return f"Would finish {short_day(live.local(plan.finish))} by the plan in force; {record}."


def _begin(jobs: list[OwnJob]) -> None:
    mine = [job for job in jobs if job.runs_it]
    if not mine:
        return
    st.header("Another job", anchor=False)
    if not may_write_here():
        st.info(
            "New jobs are begun on the server here: it may read its folder of sites, not write there. Whoever runs it "
            "puts the file in, or lets it write there."
        )
        return
    with st.expander("Copy one as a start", key="copy-one"), st.form("copy-job", enter_to_submit=False):
        names = {job.site: _name(job) for job in mine}
        of = st.selectbox("Copy", list(names), format_func=lambda s: names.get(s, s), key="copy-of")
        name = st.text_input("Name of the new job", key="copy-name", max_chars=200, placeholder="Such as Mill Road 16")
        day = st.date_input("First day on site; empty: as there", value=None, key="copy-day", format="YYYY-MM-DD")
        people = st.checkbox("Keep its people, who then need links of their own", key="copy-people")
        st.caption("All dates move with the first day. What is on record there, and what was booked, is not copied.")
        if st.form_submit_button("Begin the copy", type="primary"):
            _done(copy(of, name, day, with_people=people), name, names[of])
    with st.expander("Begin an empty one", key="begin-one"), st.form("begin-job", enter_to_submit=False):
        st.caption("A service to a building, with everything usual in it and you as its only person.")
        ask_start()
        if st.form_submit_button("Begin the job", type="primary"):
            start = start_said()
            if isinstance(start, str):
                st.error(escape(start))
            else:
                _done(begin(mine[0].site, TEMPLATE, start), start.name, "")


def _done(site: str, name: str, of: str) -> None:
    st.session_state[BEGUN] = (site, name, of)
    st.rerun()


def _say_begun() -> None:
    site, name, of = st.session_state.get(BEGUN, ("", "", ""))
    if not site:
        return
    with st.container(border=True, key="job-begun"):
        st.success(f"{escape(name)} is begun, as a job of its own with a record of its own.", icon=":material/check:")
        left = (
            f"Not copied from {escape(of)}: its record, its bookings, the numbers and answers of its tickets, the "
            "numbers of its permits, and the permits that were granted there: **this job needs its own.**"
            if of
            else "Names, rates, notices and hours in it are invented."
        )
        st.write(
            f"{left} Whoever runs the server puts the rest in its file, `{site}.yaml`. As on every job, you choose a "
            "code when you open it first."
        )
        with st.container(horizontal=True, vertical_alignment="center"):
            _way(site, name)
            if st.button("All right", key="begun-seen"):
                del st.session_state[BEGUN]
                st.rerun()


def _archived(jobs: list[OwnJob]) -> None:
    if not jobs:
        return
    st.header("Archived", anchor=False)
    for job in jobs:
        since = job.archived
        with st.container(border=True, key=f"job-{job.site}"):
            said = f"Archived since {_day(job, since.at)}, by {escape(since.by)}." if since else ""
            st.markdown(f"**{escape(_name(job))}**  \n{said}")
            _press("Take it back", f"take-back-{job.site}", partial(take_back, job.site))


def _press(label: str, key: str, act: Callable[[], None]) -> None:
    if st.button(label, key=key):
        act()
        st.rerun()


def _way(site: str, name: str) -> None:
    """Show the way to a job: its address, at which the gate lets this browser in as the person of that site."""
    said = html_escape(name).replace('"', "&quot;")
    st.html(
        f'<a class="to-job" href="/?site={quote(site)}" aria-label="Go to it: {said}">Go to it</a>', width="content"
    )


def _name(job: OwnJob) -> str:
    return job.case.site.site.name if job.case is not None else f"{job.site}.yaml"


def _day(job: OwnJob | None, when: datetime) -> str:
    zone = ZoneInfo(job.case.site.site.time_zone) if job and job.case else UTC
    return short_day(when.astimezone(zone))
