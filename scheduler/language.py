"""The language in which sentences are told: English, or Spanish where a translation of the sentence is kept.

Like units, a language is chosen once, with `speak`, or for a while with `spoken_in`, by whoever opens a page or prints
a paper. Sentences go through `in_words` with their values apart, so that a translation may put these elsewhere. Names
and words that people wrote stay as they wrote them. All translations stand in `spanish.toml` beside this module.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import Literal

Language = Literal["en", "es"]
LANGUAGES: Mapping[Language, str] = {"en": "English", "es": "Español"}
_told_in: ContextVar[Language] = ContextVar("language", default="en")


@cache
def _kept() -> Mapping[str, Mapping[str, str]]:
    found: dict[str, dict[str, str]] = tomllib.loads(
        Path(__file__).with_name("spanish.toml").read_text(encoding="utf-8")
    )
    return found


def translations() -> Mapping[str, str]:
    """Return every sentence that has a translation, with it."""
    return _kept()["sentences"]


def unread() -> str:
    """Say that nobody whose language it is has read the translations; '' in English."""
    return _kept()["about"]["unread"] if _told_in.get() == "es" else ""


def speak(language: Language) -> None:
    """Tell sentences in a language from now on, in the running thread or task."""
    _told_in.set(language)


def language() -> Language:
    """Return the language in which sentences are told now."""
    return _told_in.get()


@contextmanager
def spoken_in(language: Language) -> Iterator[None]:
    """Tell sentences in a language meanwhile."""
    before = _told_in.set(language)
    try:
        yield
    finally:
        _told_in.reset(before)


def in_words(sentence: str, **values: object) -> str:
    """Return a sentence with its values put in, in the language told; in English where no translation is kept."""
    kept = translations().get(sentence, sentence) if _told_in.get() == "es" else sentence
    return kept.format(**values)
