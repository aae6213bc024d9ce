"""Questions that need a search, asked on a click and answered off the page: each is looked into once."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cache
from typing import TypeVar

import streamlit as st

T = TypeVar("T")
KEPT = 64


class Errands:
    """Questions with their answers, or on the way to one; the oldest are forgotten first."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="errand")
        self._asked: dict[Hashable, Future[object]] = {}
        self._lock = threading.Lock()

    def asked(self, key: Hashable) -> Future[object] | None:
        """Return the question asked under a key, if any."""
        return self._asked.get(key)

    def ask(self, key: Hashable, work: Callable[[], object]) -> None:
        """Put a question to the worker unless it was put before."""
        with self._lock:
            if key not in self._asked:
                self._asked[key] = self._pool.submit(work)
                while len(self._asked) > KEPT:
                    self._asked.pop(next(iter(self._asked))).cancel()


@cache
def errands() -> Errands:
    """The one list of this server."""
    return Errands()


def answer_on_click(label: str, key: Hashable, work: Callable[[], T], say: Callable[[T], None]) -> None:
    """Offer a question as a button; once it is asked, wait beside the page, then say what came of it."""
    asked = errands().asked(key)
    if asked is None:
        if st.button(label, key=f"ask {key}"):
            errands().ask(key, work)
            st.rerun()
    elif not asked.done():
        _wait(asked)
    elif asked.exception() is not None:
        st.warning("This could not be worked out.")
    else:
        say(asked.result())  # type: ignore[arg-type]  # what `work` returned under this key


@st.fragment(run_every=0.5)
def _wait(asked: Future[object]) -> None:
    if asked.done():
        st.rerun()
    st.caption("Being worked out; it will appear here.")
