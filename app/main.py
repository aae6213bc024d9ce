"""The dashboard's frame: which site is open, whether its plan is there yet, and which page shows."""

from __future__ import annotations

import streamlit as st

from app.components.busy import show_failure, watch
from app.components.faults import show_faults
from app.components.site_choice import choose_site
from app.screens import conflicts, critical, inspections, schedule, today, trench
from app.session import current_job, open_site
from scheduler.errors import BadInput

SCREENS = {
    "today": ("Today", today.show),
    "schedule": ("Schedule", schedule.show),
    "critical-path": ("Critical path", critical.show),
    "inspections": ("Visits and holds", inspections.show),
    "trench": ("Trench", trench.show),
    "conflicts": ("Conflicts", conflicts.show),
}


def _page(slug: str) -> None:
    """Show one screen for the open site, or say why it cannot be shown yet."""
    path = choose_site()
    try:
        case = open_site(path)
    except BadInput as bad:
        show_faults(path.name, bad)
        return
    job = current_job(case)
    if not job.done:
        watch(job)
        return
    if job.planned is None:
        show_failure(job)
        return
    SCREENS[slug][1](job.planned)


def main() -> None:
    """Run the page the address asks for."""
    st.set_page_config(page_title="Joint trench", page_icon=":material/construction:", layout="wide")
    st.html("<style>.block-container{padding-top:3.2rem}h1{font-size:1.7rem}h2{font-size:1.25rem}</style>")
    pages = [
        st.Page(lambda slug=slug: _page(slug), title=title, url_path=slug, default=slug == "today")
        for slug, (title, _) in SCREENS.items()
    ]
    st.navigation(pages, position="top").run()


main()
