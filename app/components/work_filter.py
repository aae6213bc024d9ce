"""Which work is looked at: of one trade, in one stretch."""

from __future__ import annotations

from dataclasses import dataclass

import streamlit as st

from app.answer import Answer
from app.live import Live
from scheduler.ledger import trade_names
from scheduler.plan import PlanActivity
from scheduler.units import format_station

ONLY_REACH = "only-reach"


@dataclass(frozen=True, slots=True)
class Chosen:
    """A trade and a stretch of ground; empty and None: all of them."""

    trade: str = ""
    stretch: tuple[str, float, float] | None = None

    def takes(self, activity: PlanActivity) -> bool:
        """Tell whether some work is looked at."""
        if self.trade and activity.trade != self.trade:
            return False
        if self.stretch is None:
            return True
        alignment, lo, hi = self.stretch
        return activity.alignment == alignment and activity.from_ft < hi and activity.to_ft > lo


def look_at_reach(reach: str) -> None:
    """Look at the work of one reach only, before the choice is drawn."""
    st.session_state[ONLY_REACH] = reach


def choose_work(answer: Answer, live: Live) -> Chosen:
    """Offer to look at one trade's work, or at one reach only."""
    site = live.case.site
    present = {a.trade for a in answer.plan.activities}
    trades = {"": "Everybody", **{t: n for t, n in trade_names(site, live.known).items() if t in present}}
    names = {a.id: a.name for a in site.alignments}
    reaches = {"": "Everywhere"}
    reaches |= {r.id: f"{names[r.alignment]} {format_station(r.from_)} to {format_station(r.to)}" for r in site.reaches}
    with st.container(horizontal=True):
        trade = st.selectbox("Whose work", list(trades), format_func=trades.__getitem__, key="only-trade", width=260)
        reach = st.selectbox("Where", list(reaches), format_func=reaches.__getitem__, key=ONLY_REACH, width=260)
    place = next((r for r in site.reaches if r.id == reach), None)
    return Chosen(trade, (place.alignment, place.from_, place.to) if place else None)
