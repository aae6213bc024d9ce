"""The turns in which stretches of trench are opened, and small changes to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from random import Random

COUNTS = (2, 3, 4, 6, 8, 12, None)
"""How many stretches may stand open; None: as many as the limits of the network allow."""


class Style(StrEnum):
    """How work inside the trench is ordered, once the turn of each stretch is settled."""

    BY_TURN = "by turn"
    """Open as far ahead as may stand; inside, the stretch whose turn came first goes first."""
    BY_NEED = "by need"
    """Open as far ahead as may stand; inside, what must start first goes first."""
    ONE_BY_ONE = "one by one"
    """Plan a stretch wholly before the next; a later dig may still fill a gap before that."""


@dataclass(frozen=True, slots=True)
class Turns:
    """The openers in turn, and how the order of all else follows from that."""

    openers: tuple[str, ...]
    style: Style
    standing: int | None = None
    """How many stretches may stand open with no cover planned."""
    whole: bool = False
    """Whether work that could keep a party waiting over its own closed hours is put inside one window."""
    nudges: Mapping[str, float] = field(default_factory=dict)
    """Turns by which single activities are put forward or back."""

    @classmethod
    def drawn(cls, rng: Random, near: Sequence[str]) -> Turns:
        """Return turns by chance, half of the time with the openers not far from a given order of them."""
        far = len(near) * (0.5 if rng.random() < 0.5 else 10.0)
        places = {opener: i + rng.random() * far for i, opener in enumerate(near)}
        openers = tuple(sorted(near, key=places.__getitem__))
        return cls(openers, rng.choice(list(Style)), rng.choice(COUNTS), rng.random() < 0.5)

    def changed(self, rng: Random, late: Sequence[str], activities: Sequence[str]) -> Turns:
        """Return turns a small change away; `late` are openers that had better come sooner."""
        chance, last = rng.random(), len(self.openers) - 1
        if chance < 0.35 and late:
            i = self.openers.index(rng.choice(late))
            return self._moved(i, rng.randint(0, i) if rng.random() < 0.4 else max(0, i - rng.randint(1, 3)))
        if chance < 0.7:
            i = rng.randint(0, last)
            far = rng.randint(0, last) if rng.random() < 0.3 else i + rng.randint(-3, 3)
            return self._moved(i, min(max(far, 0), last))
        if chance < 0.8:
            return replace(self, standing=rng.choice(COUNTS))
        if chance < 0.87:
            return replace(self, style=rng.choice(list(Style)))
        if chance < 0.9:
            return replace(self, whole=not self.whole)
        nudges = {**self.nudges, rng.choice(activities): rng.choice((-3.5, -1.5, 1.5, 3.5))}
        return replace(self, nudges=nudges)

    def _moved(self, i: int, j: int) -> Turns:
        openers = list(self.openers)
        openers.insert(j, openers.pop(i))
        return replace(self, openers=tuple(openers))
