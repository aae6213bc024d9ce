"""The dashboard's frame: which site is open, whether its plan is there yet, and which page shows."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import streamlit as st

from app.answer import Answer
from app.components.also_here import say_written_meanwhile
from app.components.busy import show_failure, watch
from app.components.head import show_flags
from app.components.plan_choices import chosen_of
from app.components.record_watch import shows_without_record, watch_record
from app.components.show_faults import show_faults
from app.components.site_choice import choose_site
from app.in_force import in_force
from app.jobs import Job, jobs
from app.live import live_of
from app.screens import (
    conflicts,
    critical,
    delay,
    editor,
    inspections,
    my_jobs,
    paper,
    people_and_phones,
    record,
    schedule,
    today,
    trench,
)
from app.served.installed import keep_for_later
from app.served.visitors import OWN_JOBS, PEOPLE, admit_visitor, archived_here, may_open
from app.session import current_job, open_site
from scheduler import BadInput

SCREENS: dict[str, tuple[str, Callable[[Job, Answer], None]]] = {
    "today": ("Today", today.show),
    "record": ("Record", record.show),
    "delays": ("Delays", delay.show),
    "schedule": ("Schedule", schedule.show),
    "critical-path": ("Critical path", critical.show),
    "inspections": ("Visits and holds", inspections.show),
    "trench": ("Trench", trench.show),
    "conflicts": ("Conflicts", conflicts.show),
    "paper": ("Paper and calendars", paper.show),
}
EDITOR = "site-editor"
OTHERS = {EDITOR: "Site editor", PEOPLE: "People and phones", OWN_JOBS: "Jobs"}  # they need no plan
MARK = Path(__file__).with_name("mark.svg")
STYLE = Path(__file__).with_name("pages.css")


def _page(slug: str) -> None:
    """Show one screen for the open site, or say why it cannot be shown yet."""
    path = choose_site()
    if slug == EDITOR:  # it needs no plan, and mends what cannot be planned
        editor.show(str(st.session_state["site"]), path)
        return
    if slug == OWN_JOBS:
        my_jobs.show()
        return
    try:
        case = open_site(path)
    except BadInput as bad:
        show_faults(path.name, bad)
        return
    if slug == PEOPLE:
        people_and_phones.show(case)
        return
    live = live_of(case)
    jobs().heed(case.path, live.standing)
    meanwhile = st.container()
    if live.fault is None or shows_without_record(live, SCREENS[slug][0]):
        _show(slug, in_force(live) or current_job(case))
    with meanwhile:
        say_written_meanwhile(live)
    watch_record(live)


def _show(slug: str, job: Job) -> None:
    if job.answer is None:
        show_flags(live_of(job.case), every_cover=True)
    if job.answer is None and slug == "inspections":  # whoever stands at the trench waits for nobody's plan
        inspections.show_without_plan(job.case)
    if job.answer is not None:
        chosen = chosen_of(job)
        SCREENS[slug][1](job, job.answer if chosen is None else job.answer_of(chosen.planned))
    elif job.failure is not None:
        show_failure(job)
    else:
        watch(job)


def _opener(slug: str) -> Callable[[], None]:
    return lambda: _page(slug)


def main() -> None:
    """Run the page the address asks for."""
    st.set_page_config(page_title="Joint trench", page_icon=MARK, layout="wide")
    st.html(STYLE)
    admit_visitor()
    keep_for_later()
    if archived_here() is not None:
        my_jobs.show_archived()
        return
    titles = {slug: title for slug, (title, _) in SCREENS.items()} | OTHERS
    open_to = {slug: title for slug, title in titles.items() if may_open(slug)}
    pages = {s: st.Page(_opener(s), title=t, url_path=s, default=s == "today") for s, t in open_to.items()}
    st.session_state["pages"] = pages
    page = st.navigation(list(pages.values()), position="top")
    with st.container(key="links", horizontal=True, gap="xsmall"):
        for link in pages.values():
            st.page_link(link)
    page.run()


main()
