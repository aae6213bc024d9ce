"""Answers that are asked for again and again, such as who is signed in, used again for a moment."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

LATELY_S = 1.0
"""How long an answer is used again [s]."""
MOST = 1000
Asked = TypeVar("Asked")


class Lately:
    """Answers up to `LATELY_S` old, by question; safe to use from several threads. `now` gives seconds."""

    def __init__(self, now: Callable[[], float]) -> None:
        self._now = now
        self._found: dict[Hashable, tuple[float, Any]] = {}

    def ask(self, question: Hashable, find: Callable[[], Asked]) -> Asked:
        """Return the answer to a question, found just now or a moment ago."""
        found, now = self._found, self._now()
        before = found.get(question)
        if before is not None and 0.0 <= now - before[0] < LATELY_S:
            known: Asked = before[1]
            return known
        answer = find()
        if len(found) >= MOST:
            found.clear()
        kept = found.setdefault(question, (now, answer))
        if kept[0] < now:  # what was begun to be found later is newer, whichever came first
            found[question] = now, answer
        return answer

    def forget(self) -> None:
        """Find everything anew that is asked from now on; what is being found just now is kept for nobody."""
        self._found = {}
