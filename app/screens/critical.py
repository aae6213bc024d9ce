"""The critical path: the chain from the first day to the finish, and what ties each pair."""

from __future__ import annotations

import streamlit as st

from app.answer import Answer
from app.components.busy import await_end
from app.components.chart import pick_activity, show_key, show_story, show_work
from app.components.head import head
from app.figures.thread import thread_figure
from app.jobs import Job
from app.live import live_of
from app.stands import situation_of
from app.words import amount, count, escape, from_to, listed
from scheduler import Check
from scheduler.explain import Chain
from scheduler.spoken import working


def show(job: Job, answer: Answer) -> None:
    """Show the chains that set the finish, the tightest first."""
    if not head(job, answer, "Critical path"):
        return
    st.write(
        "Every step here waits for the one before it. The first chain sets the finish: a slip along it moves the "
        "finish, save what closed hours in between take up."
    )
    labels = [_label(answer, i, chain) for i, chain in enumerate(answer.chains)]
    index = st.selectbox("Chain", range(len(labels)), format_func=labels.__getitem__, key="chain")
    chain = answer.chains[index or 0]
    above = st.container()
    show_key(answer.picture)
    picked = pick_activity(answer)
    if picked:
        show_story(answer, picked, situation_of(live_of(job.case), answer))
    with above:
        steps = [answer.picture.work[s.activity] for s in chain.steps]
        figure = thread_figure(answer.picture, steps, picked=picked.id if picked else "")
        alt = f"The chain through the places it visits, {count(len(steps), 'step')}; listed in words below."
        show_work(figure, key=f"thread-{index}", alt=alt, kept_as=f"chain {1 + (index or 0)}")
    _steps(answer, chain)
    _checks(job, answer)


def _label(answer: Answer, index: int, chain: Chain) -> str:
    network = answer.case.network
    last = network.by_id[chain.steps[-1].activity].name
    slack = "no slack" if chain.critical else f"{working(chain.slack * network.clock.tick_minutes)} of slack"
    room = slack if index else "sets the finish"
    return f"{index + 1}. {room}: to {last}"


def _steps(answer: Answer, chain: Chain) -> None:
    network = answer.case.network
    when = network.clock.when
    st.header("Step by step", anchor=False)
    lines = []
    for number, step in enumerate(chain.steps, 1):
        name = escape(network.by_id[step.activity].name)
        times = from_to(when(step.start), when(step.finish))
        lines.append(f"{number}. **{name}**  \n   {times}. {escape(step.tie.because)}")
    st.markdown("\n".join(lines))


def _checks(job: Job, answer: Answer) -> None:
    st.header("Is the plan itself sound?", anchor=False)
    if not job.done:
        await_end(job)
        return
    verdicts = {None: "does not apply", True: "passes", False: "does not pass"}
    asked = [c for c in answer.checks if c.passed is not None]
    failed = [c for c in asked if not c.passed]
    if failed:
        sound = len(asked) - len(failed)
        st.markdown(f"**Yes in {sound} of the {count(len(asked), 'thing')}** that can be asked of it, not in these:")
        st.markdown(listed(f"{escape(c.name)}. {escape(c.why)}".strip() for c in failed))
    else:
        st.markdown(f"**Yes**, in all {len(asked)} things that can be asked of it.")
    lines = []
    for check in sorted(answer.checks, key=lambda c: (c.passed is not False, c.number)):
        share = f"{amount(check.found)} of {amount(check.of)}" if check.of else amount(check.found)
        why = f" {escape(check.why)}" if check.why and check.passed is not True else ""
        found = "" if check.passed is None else f" Found {share}; the mark is {escape(check.limit)}."
        lines.append(f"**{check.number}. {escape(check.name)}** {verdicts[check.passed]}.{found}{why}")
    with st.expander("Each published check, what was found, and its source"):
        st.markdown(listed(lines))
        st.caption(f"Sources: {Check.PUBLISHED.format('1 to 14')}; GAO-16-89G (December 2015).")
