"""A dated schedule in clock ticks: what a solve returns and what an audit checks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Visit:
    """One authority's visit: the looks made from `start` to `finish` in one window."""

    id: str
    rule: str
    start: int
    finish: int
    looks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Schedule:
    """Start and finish of every activity, the visits, and the ticket renewals called for."""

    dates: Mapping[str, Span]
    visits: tuple[Visit, ...] = ()
    renewals: tuple[str, ...] = ()
    """Ids of the renewals used."""

    @property
    def finish(self) -> int:
        """The tick at which the last activity finishes."""
        return max((f for _, f in self.dates.values()), default=0)
