"""Choices that stand in the address: none is lost when somebody acts again before the page has answered."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from streamlit.testing.v1 import AppTest

from app import address

PARTS = ("site", "lines")


@pytest.fixture
def state(monkeypatch: pytest.MonkeyPatch) -> dict[str, object]:
    """Return what a session keeps whose address has asked for the lines, and has been given them."""
    kept: dict[str, object] = {}
    asked = {"part": "lines"}
    monkeypatch.setattr(address, "st", SimpleNamespace(session_state=kept, query_params=asked))
    address.settle("part", PARTS)
    address.publish("part", "lines")
    assert kept["part"] == "lines"
    return kept


def test_a_choice_that_was_forgotten_is_taken_from_the_address_again(state) -> None:
    del state["part"]  # as happens when a run is broken off for the next
    address.settle("part", PARTS)
    assert state["part"] == "lines"


def test_a_choice_that_somebody_makes_or_takes_back_stands_over_the_address(state) -> None:
    for chosen in ("site", None):
        state["part"] = chosen
        address.settle("part", PARTS)
        assert state["part"] == chosen


def test_a_choice_that_is_no_more_is_not_taken_from_the_address(state) -> None:
    del state["part"]
    address.settle("part", ("site",))
    assert "part" not in state


def renamed() -> None:
    import streamlit as st

    from app.address import choose

    names = {"a": st.session_state.get("name", "Old"), "b": "Other"}
    st.text(f"shown: {choose('Line', names, key='line', what='line')}")


def test_a_choice_keeps_standing_when_its_words_change() -> None:
    at = AppTest.from_function(renamed, default_timeout=60)
    at.query_params["line"] = "a"
    for name in ("Old", "New", "New"):
        at.session_state["name"] = name
        at.run()
        assert not at.exception
        assert at.text[0].value == "shown: a"
        assert at.selectbox[0].value == "a"
