"""What a browser is told of the record, so that it knows which words of its own are written down."""

from __future__ import annotations

import html
import json
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import pytest

import scheduler
from app.components import typed_words
from app.components.typed_words import START, tell_on_record
from scheduler import bundled_sites
from scheduler.ledger.day_events import NoteKept

AT = datetime(2027, 3, 10, 19, tzinfo=UTC)
CASE = scheduler.load(bundled_sites()["orchard-lane"])


def told(monkeypatch: pytest.MonkeyPatch, *written: tuple[str, str], **how: Any) -> Any:
    """Return what a page of Ruth Amsel's tells her browser, by who wrote which words; None where it tells nothing."""
    out: list[str] = []
    monkeypatch.setattr(typed_words.st, "html", out.append)
    monkeypatch.setattr(
        typed_words, "visitor", lambda: how.get("here", (SimpleNamespace(site="lane", person="r-amsel"), None))
    )
    rows = [
        SimpleNamespace(number=n, by=by, event=NoteKept(words=words, when=AT))
        for n, (by, words) in enumerate(written, 1)
    ]
    live = SimpleNamespace(
        case=CASE, fault=how.get("fault"), person=SimpleNamespace(name="Ruth Amsel"), entries=tuple(rows)
    )
    tell_on_record(live)  # type: ignore[arg-type]
    return json.loads(html.unescape(out[0]).split("data-said=", 1)[1].split(">", 1)[0][1:-1]) if out else None


def test_a_browser_is_told_the_last_own_words_by_length_and_beginning(monkeypatch: pytest.MonkeyPatch) -> None:
    long = "word " * 100
    said = told(
        monkeypatch, ("Ruth Amsel", "old"), *[("Ruth Amsel", w) for w in ("a  b\nc", "🚧 up", long)], ("Tom", "x")
    )
    assert (said["who"], said["head"]) == ("lane/r-amsel", 5)
    assert [number for number, _, _ in said["own"]] == [2, 3, 4]
    texts = [[5, "a b c"], [5, "🚧 up"], [499, long[:START]]]
    assert all(text in own for text, (_, _, own) in zip(texts, said["own"], strict=True)), "lengths as a browser counts"


def test_what_a_form_puts_before_the_words_does_not_hide_them(monkeypatch: pytest.MonkeyPatch) -> None:
    said = told(monkeypatch, ("Ruth Amsel", "Nobody came. Gate shut."))
    assert [10, "Gate shut."] in said["own"][0][2]


@pytest.mark.parametrize("how", [{"here": None}, {"fault": "unreadable"}])
def test_nothing_is_told_on_one_machine_or_while_the_record_cannot_be_read(
    monkeypatch: pytest.MonkeyPatch, how: dict[str, Any]
) -> None:
    assert told(monkeypatch, ("Ruth Amsel", "words"), **how) is None
