"""Every sentence that may be told in Spanish has its translation, with the same values in it; none is left over."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from string import Formatter

import pytest
from streamlit.testing.v1 import AppTest

from scheduler.language import in_words, spoken_in, translations, unread
from scheduler.ledger import HoldStatus
from scheduler.situation import PROPOSAL
from scheduler.spoken import day, moment

ROOT = Path(__file__).parents[2]
DAYS = [date(2027, 1, 1) + timedelta(days=k) for k in range(365)]
NAMES = {f"{d:{form}}" for d in DAYS for form in ("%a", "%A", "%b", "%B")}
VALUES = {status.value for status in HoldStatus} | {PROPOSAL}
"""What is told through a name of the program."""


def told() -> Iterator[tuple[str, str]]:
    """Yield every sentence that goes through `in_words`, with where it stands."""
    for path in sorted(p for folder in ("app", "scheduler") for p in (ROOT / folder).rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        given = {
            node.targets[0].id: node.value.value
            for node in ast.walk(tree)
            if isinstance(node, ast.Assign)
            and isinstance(node.targets[0], ast.Name)
            and isinstance(node.value, ast.Constant)
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "in_words":
                first = node.args[0]
                if isinstance(first, ast.Constant):
                    yield first.value, f"{path.name}:{node.lineno}"
                elif isinstance(first, ast.Name) and first.id in given:
                    yield given[first.id], f"{path.name}:{node.lineno}"


def fields(text: str) -> list[str]:
    return sorted(name for _, name, _, _ in Formatter().parse(text) if name is not None)


def test_every_sentence_that_is_told_has_a_translation() -> None:
    missing = {(text, where) for text, where in told() if text not in translations()}
    missing |= {(text, "") for text in NAMES | VALUES if text not in translations()}
    assert missing == set()


def test_no_translation_is_left_over() -> None:
    assert set(translations()) == {text for text, _ in told()} | NAMES | VALUES


def test_values_marks_and_headings_agree() -> None:
    for sentence, spanish in translations().items():
        assert spanish.strip(), sentence
        assert fields(sentence) == fields(spanish), sentence
        for mark in ("**", "# ", "\n", "`"):
            assert sentence.count(mark) == spanish.count(mark), (sentence, mark)
        assert sentence[-1:] != "." or spanish[-1:] == ".", sentence


def test_sentences_and_dates_follow_the_language_and_come_back() -> None:
    when = datetime(2027, 3, 9, 10, 30)
    with spoken_in("es"):
        assert (moment(when), day(when)) == ("mar 9 mar 10:30", "martes 9 de marzo")
        assert in_words("Ask {who}.", who="Tom") == "Pregunte a Tom."
        assert in_words("A sentence without a translation {n}.", n=1) == "A sentence without a translation 1."
        assert "sin revisar" in unread()
    assert (moment(when), day(when), unread()) == ("Tue 9 Mar 10:30", "Tuesday 9 March", "")


def test_the_file_says_that_nobody_whose_language_it_is_has_read_it() -> None:
    assert "NOT YET READ BY A NATIVE SPEAKER" in (ROOT / "scheduler" / "spanish.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(("asked", "words"), [("es", "Español"), ("xx", "English"), (None, "English")])
def test_a_language_is_chosen_by_the_address(asked: str | None, words: str) -> None:
    def script() -> None:
        import streamlit as st

        from app.components.pick_language import language, show_languages
        from scheduler.spoken import LANGUAGES

        st.write(LANGUAGES[language()])
        show_languages()

    at = AppTest.from_function(script)
    if asked:
        at.query_params["lang"] = asked
    at.run()
    assert at.markdown[0].value == words
    assert [c.value for c in at.caption] == ([f":material/translate: {_unread()}"] if asked == "es" else [])
    at.button[0].click().run()
    assert at.markdown[0].value == ("English" if asked == "es" else "Español")


def _unread() -> str:
    with spoken_in("es"):
        return unread()
