"""The critical path: the chain from the first day to the finish, and what ties each pair."""

from __future__ import annotations

import streamlit as st

from app.components.chart import activity_picker, escape, show_figure, show_story
from app.components.words import moment
from app.figures.thread import thread_figure
from app.session import picture_of
from scheduler.explain.chain import Chain, chains
from scheduler.explain.story import working
from scheduler.planning import Planned

MOST_CHAINS = 6


def show(planned: Planned) -> None:
    """Show the chains that set the finish, the tightest first."""
    st.title("Critical path")
    if planned.schedule is None:
        st.info("There is no plan to show. See Conflicts.")
        return
    network = planned.case.network
    found = chains(network, planned.schedule, MOST_CHAINS)
    st.write("Every step here waits for the one before it. A slip along the first chain moves the finish.")
    labels = [_label(planned, i, chain) for i, chain in enumerate(found)]
    index = st.selectbox("Chain", range(len(found)), format_func=labels.__getitem__, key="chain")
    _steps(planned, found[index or 0])
    chosen = activity_picker(planned.plan, key="activity", picked=None)
    if chosen:
        show_story(planned, chosen)


def _label(planned: Planned, index: int, chain: Chain) -> str:
    last = planned.case.network.by_id[chain.steps[-1].activity].name
    room = "no room: moves the finish" if chain.critical else f"{working(planned.case.network, chain.slack)} of room"
    return f"{index + 1}. to {last} ({room})"


def _steps(planned: Planned, chain: Chain) -> None:
    network = planned.case.network
    when = network.clock.when
    by_id = {a.id: a for a in planned.plan.activities}
    figure = thread_figure(picture_of(planned), [by_id[s.activity] for s in chain.steps])
    show_figure(figure, key="thread", alt=f"The chain through the places it visits, {len(chain.steps)} steps")
    lines = []
    for number, step in enumerate(chain.steps, 1):
        name = escape(network.by_id[step.activity].name)
        times = f"{moment(when(step.start))} to {moment(when(step.finish))}"
        lines.append(f"{number}. **{name}**  \n   {times}. {escape(step.tie.because)}")
    st.markdown("\n".join(lines))
