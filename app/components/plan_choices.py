"""The plans to choose from: side by side, in a picture, and a button to look at one, which can then be put in force."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from app.components.chart import show_picture
from app.components.wide_table import show_wide_table
from app.figures.choices_figure import ChoiceMark, choices_figure
from app.jobs import Job, LookingOn, jobs
from app.live import live_of
from app.words import escape, moment
from scheduler import Options, PlanChoice, money_by_line, open_trench_known, side_by_side
from scheduler.units import tell_in

CHOSEN = "plan-choice"
"""Where the session keeps the plan that it looks at, with the question that it is a choice for."""


def chosen_of(job: Job) -> PlanChoice | None:
    """Return the plan of this site that this session chose to look at; None where it chose none.

    It stays that very plan, whatever is found later.
    """
    asked, choice = st.session_state.get(CHOSEN, (None, None))
    return choice if job.choices and asked == _asked(job) else None


def keep_chosen(job: Job, choice: PlanChoice) -> None:
    """Have the pages of this session show a plan of this site."""
    st.session_state[CHOSEN] = _asked(job), choice


def _asked(job: Job) -> tuple[Path, str, Options]:
    return job.case.path, job.case.sha256, job.options


def _shown(job: Job) -> PlanChoice | None:
    """Return the choice that the pages show; None where what they show is none of the choices."""
    chosen = chosen_of(job)
    planned = chosen.planned if chosen else job.answer.planned if job.answer else None
    return next((c for c in job.choices if c.planned is planned), None)


def show_choices(job: Job) -> None:
    """Show the plans found so far side by side, with what differs, and let the reader look at another.

    Nothing is shown of a plan accepted on the way: others are worked out only before the work begins.
    """
    if job.done and not (job.choices or job.not_asked or job.stopped):
        return
    st.header("Plans to choose from", anchor=False)
    if len(job.choices) > 1:
        shown = _shown(job)
        if shown is None:
            st.write(
                "The plan on these pages is none of them: one of these is as good in all, and better in something."
            )
        head, *rows = side_by_side(job.choices)
        strong = next((n for n, choice in enumerate(job.choices, 1) if choice is shown), None)
        show_wide_table([[cell.capitalize() for cell in head], *rows], name="The plans side by side", strong=strong)
        _picture(job, shown)
        with st.expander("Money by line"):
            show_wide_table(_by_line(job), name="What each plan costs, line by line")
        for choice in job.choices:
            _one(job, choice, is_shown=choice is shown)
    if job.choices and job.looking is not None and job.looking.goes_on:
        _say_looked_on(job, job.looking, job.looked_for)
    elif job.not_asked is not None:
        _offer(job)
    elif job.stopped:
        st.caption("No more were looked for, because the search was stopped.")
    elif not job.done:
        _await_more(job, len(job.choices), job.looked_for)
    else:
        if len(job.choices) == 1:
            st.write("No other plan was found that is better in anything.")
        _offer_more(job)


def _offer(job: Job) -> None:
    """Offer to look for other plans: the pages answer more slowly meanwhile, so somebody has to want it."""
    st.write("Other plans: least money, fewest visits and trips, least open trench, most margin, a balance.")
    if st.button("Look for other plans", key="look-for-plans"):
        jobs().look_further(job)
        st.rerun()


def _offer_more(job: Job) -> None:
    """Offer to go on looking, in the background, until somebody ends it or something changes."""
    if job.search is None:
        return
    if job.looking is not None and job.looking.failure is not None:
        st.warning("Looking on broke off because of a fault in this program; the plans above stand.")
    st.write("Longer looking may find better ones, above all with less open trench. Pages go on answering meanwhile.")
    if st.button("Keep looking", key="keep-looking"):
        jobs().keep_looking(job, live_of(job.case).standing)
        st.rerun()


@st.fragment(run_every=2.0)
def _say_looked_on(job: Job, looking: LookingOn, looked_for: int) -> None:
    """Say that better plans are looked for and what they may come to, let the reader end it, and show what is found."""
    if not looking.goes_on or job.looked_for != looked_for:
        st.rerun()
    tell_in(job.case.site.site.units)
    st.caption(f"Better plans are looked for; what is found appears here. {escape(open_trench_known(job.choices))}")
    if st.button("That is enough", key="enough-looking"):
        looking.stop.set()
        st.rerun()


def _name(choice: PlanChoice) -> str:
    return ", ".join(choice.aims)


def _by_line(job: Job) -> list[list[str]]:
    lines = money_by_line(job.choices)
    return [["Line", *(c.aims[0] for c in job.choices)], *([words, *(f"${a:,.0f}" for a in of)] for words, of in lines)]


def _picture(job: Job, shown: PlanChoice | None) -> None:
    when = job.case.network.clock.when
    marks = [
        ChoiceMark(c.aims[0], when(c.measures.finish), c.measures.money, c.measures.margin, c is shown)
        for c in job.choices
    ]
    said = "; ".join(f"{m.name}: {moment(m.finish)}, ${m.money:,.0f}, margin {m.margin} %" for m in marks)
    begins = when(job.case.network.data_date)
    alt = f"Finish against money of each plan. {said}"
    show_picture(choices_figure(marks, begins=begins), key="choices", alt=alt, kept_as="plans to choose from")


def _one(job: Job, choice: PlanChoice, *, is_shown: bool) -> None:
    with st.container(border=True, horizontal=True, vertical_alignment="center", key=f"choice-{choice.name}"):
        st.markdown(f"**{escape(_name(choice).capitalize())}**. {escape(choice.said)}".rstrip())
        if is_shown:
            st.markdown(":material/visibility: **Shown on all pages**")
        elif st.button("Look at this plan", key=f"choose-{choice.name}"):
            keep_chosen(job, choice)
            st.rerun()


@st.fragment(run_every=1.0)
def _await_more(job: Job, plans: int, looked_for: int) -> None:
    """Say that more plans are looked for, and draw the page again when one more was."""
    if job.done or (len(job.choices), job.looked_for) != (plans, looked_for):
        st.rerun()
    st.caption("More plans are looked for; they will appear here.")
