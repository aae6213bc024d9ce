"""The first screen is sent whole, and the browser has time for it before the folded rest of the page comes."""

from __future__ import annotations

import streamlit as st

from app.components import first_screen
from tests.unit.test_app_pages import page


def test_the_browser_has_time_for_the_first_screen_once_in_a_session(monkeypatch):
    waits = []

    def waited(seconds: float) -> None:
        waits.append(seconds)
        st.caption("Waited here.")

    monkeypatch.setattr(first_screen, "DRAWING_S", 0.25)
    monkeypatch.setattr(first_screen, "sleep", waited)
    at = page("today", "solved")
    assert not at.exception
    assert waits == [0.25]
    drawn = list(at.main)
    (place,) = [n for n, e in enumerate(drawn) if getattr(e, "value", "") == "Waited here."]
    sent = [e.type for e in drawn[:place]]
    assert (sent.count("bidi_component"), sent.count("popover")) == (1, 4), "the picture and the tiles"
    assert "expander" not in sent, "what is folded comes after them"
    at.run()
    assert waits == [0.25], "a session that has drawn it once is not held up"
