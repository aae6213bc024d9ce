"""What the browser of a served dashboard needs to tell whether what was typed, or pressed, is on record."""

from __future__ import annotations

import json
from collections.abc import Iterator
from html import escape
from typing import Any

import streamlit as st

from app.components.also_here import WRITES
from app.components.pick_language import language
from app.live import Live
from app.served.visitors import visitor
from app.words import in_words, spoken_in
from scheduler.ledger import Entry, Wording

LAST = 3
"""How many of somebody's own entries are told; who presses waits for the answer before they press again."""
START = 60
"""How much of a long text is sent again every few seconds: with its length, enough to know it by."""


def tell_on_record(live: Live) -> None:
    """Tell the browser whose page it is and what they wrote last; nothing on one machine, or while nothing is known."""
    found = visitor()
    if found is None or live.fault is not None or live.person is None:
        return
    wording = Wording(live.case.site, live.case.network)
    own = [e for e in live.entries if e.by == live.person.name][-LAST:]
    with spoken_in(language()):
        words = script_words()
    said = {
        "who": f"{found[0].site}/{found[0].person}",
        "head": live.entries[-1].number if live.entries else 0,
        "own": [[e.number, wording.sentence(e.event)[:200], [*_texts(e)]] for e in own],
        "writes": WRITES,
        "words": words,
    }
    with st.container(key="on-record"):
        st.html(f'<span class="on-record" data-said="{escape(json.dumps(said))}"></span>')


def _texts(entry: Entry) -> Iterator[tuple[int, str]]:
    """Yield what was typed in an entry: its length in the browser's units, and how it begins, all blanks as one."""
    for text in _strings(entry.event.model_dump(mode="python")):
        whole = " ".join(text.split())
        for said in dict.fromkeys((whole, whole.removeprefix("Nobody came. "))):
            yield len(said.encode("utf-16-le")) // 2, said[:START]


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for part in value.values():
            yield from _strings(part)


def script_words() -> dict[str, str]:
    """Return the sentences of the page's script in the language told; {at} and the like are put in there."""
    own = {name: f"{{{name}}}" for name in ("at", "button", "entry", "words")}
    return {
        "lost": in_words("No connection. What is typed is kept on this phone, and nothing is sent."),
        "back": in_words("The connection is back."),
        "out": in_words(
            "Nobody is signed in here any more, and nothing that was typed is kept. Ask the contractor for your link."
        ),
        "unknown": in_words("Not known whether “{button}” was heard, pressed at {at}: the connection was lost.", **own),
        "heard": in_words("The connection was lost after “{button}”, pressed at {at}. On record since: {entry}", **own),
        "unheard": in_words(
            "Not written down: “{button}”, pressed at {at} while the connection was lost. "
            "Press it again if it is still so.",
            **own,
        ),
        "kept": in_words("Typed at {at} and not written down: “{words}”", **own),
        "put": in_words("Put it back"),
        "go": in_words("Go to its page"),
        "away": in_words("Throw it away"),
        "read": in_words("I have read this"),
    }
