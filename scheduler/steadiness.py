"""How steadily crews and machines work in a plan: who takes which piece, moves between stretches, cut pieces.

A party of several crews, all alike, holds as many pieces at once as it has crews. Which crew takes which piece
decides no date, so it is settled afterwards: each piece, in order of its start, goes to a free crew that is in
that stretch already, else to the one that has been free longest.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from scheduler.measures import worked
from scheduler.network.model import Activity, Network, Resource, ResourceKind
from scheduler.schedule import Span

CUT_MINUTES = 30
"""Work that closing hours cut into a piece no longer than this is not worth the way there."""
_MOVING = (ResourceKind.CREW, ResourceKind.MEMBER, ResourceKind.MACHINE)

Row = list[Activity]
"""What one crew or machine does in stretches, in order of time."""


@dataclass(frozen=True)
class MovingParty:
    """Crews, members of crews that split, or machines, all alike, with the work that takes any of them."""

    id: str
    units: int
    """How many there are of it."""
    work: tuple[tuple[Activity, int], ...]
    """(activity, units that it takes)."""

    @classmethod
    def of(cls, network: Network, resource: Resource) -> MovingParty:
        """Return a resource with its work; what takes no time is left out."""
        held = ((a, dict(a.needs).get(resource.id, 0)) for a in network.activities if a.work > 0)
        return cls(resource.id, resource.capacity, tuple((a, units) for a, units in held if units > 0))


def moving_parties(network: Network) -> list[MovingParty]:
    """Return who goes from stretch to stretch: crews, members of those that split, and machines."""
    return [MovingParty.of(network, resource) for resource in network.resources if resource.kind in _MOVING]


def moves_between_stretches(network: Network, dates: Mapping[str, Span]) -> int:
    """Return how often crews, members of those that split, and machines change their stretch on such dates [ticks]."""
    return sum(moves_in(rows_of(party, dates)) for party in moving_parties(network))


def moves_in(rows: Sequence[Row]) -> int:
    """Return how often those who work in such rows change their stretch."""
    return sum(a.reach != b.reach for row in rows for a, b in pairwise(row))


def rows_of(party: MovingParty, dates: Mapping[str, Span]) -> list[Row]:
    """Return, for each crew or machine of a party, its work in stretches in order of time."""
    rows: list[Row] = [[] for _ in range(party.units)]
    by_id = {a.id: a for a, _ in party.work}
    for id_, units in _taken(party, dates).items():
        for unit in units if by_id[id_].reach else ():
            rows[unit].append(by_id[id_])
    return rows


def who_takes(network: Network, resource: Resource, dates: Mapping[str, Span]) -> dict[str, tuple[int, ...]]:
    """Return, by activity, which units of a party take it: crew 0, 1 and so on, the same units to its end."""
    return _taken(MovingParty.of(network, resource), dates)


def cut_pieces(network: Network, activity: Activity, span: Span) -> int:
    """Return how many pieces of own work that takes longer have no more than `CUT_MINUTES`, for hours that close."""
    most = CUT_MINUTES // network.clock.tick_minutes
    if not activity.trade or activity.work <= most or span[1] - span[0] == activity.work:
        return 0
    return sum(finish - start <= most for start, finish in worked(network, activity.id, span))


class Steadiness:
    """Moves and cut pieces of a plan that changes bit by bit."""

    def __init__(self, network: Network, dates: Mapping[str, Span]) -> None:
        self._network = network
        self.parties = moving_parties(network)
        self.parties_of: dict[str, list[MovingParty]] = {}
        """Those that a piece of work takes."""
        for party in self.parties:
            for activity, _ in party.work:
                self.parties_of.setdefault(activity.id, []).append(party)
        self.rows = {p.id: rows_of(p, dates) for p in self.parties}
        self.cut = {a.id: cut_pieces(network, a, dates[a.id]) for a in network.activities}
        self._changed: tuple[dict[str, list[Row]], dict[str, int]] = {}, {}

    @property
    def total(self) -> int:
        """Moves between stretches and cut pieces, together."""
        return sum(map(moves_in, self.rows.values())) + sum(self.cut.values())

    @property
    def least(self) -> int:
        """What no plan goes below: each stretch of a party's work is gone to by somebody."""
        return sum(max(0, len({a.reach for a, _ in p.work if a.reach}) - p.units) for p in self.parties)

    def worse(self, dates: Mapping[str, Span], moved: Iterable[str]) -> int:
        """Return by how much moves and cut pieces grow with other dates of some work; see `keep`."""
        moved = list(moved)
        parties = {p.id: p for a in moved for p in self.parties_of.get(a, ())}
        rows = {id_: rows_of(party, dates) for id_, party in parties.items()}
        cut = {a: cut_pieces(self._network, self._network.by_id[a], dates[a]) for a in moved}
        self._changed = rows, cut
        moves = sum(moves_in(new) - moves_in(self.rows[id_]) for id_, new in rows.items())
        return moves + sum(new - self.cut[a] for a, new in cut.items())

    def keep(self) -> None:
        """Go on from the dates that were asked about last."""
        rows, cut = self._changed
        self.rows.update(rows)
        self.cut.update(cut)


def _taken(party: MovingParty, dates: Mapping[str, Span]) -> dict[str, tuple[int, ...]]:
    free_from, last_at = [0] * party.units, [""] * party.units
    taken: dict[str, tuple[int, ...]] = {}
    for activity, units in sorted(party.work, key=lambda pair: (dates[pair[0].id], pair[0].id)):
        start, finish = dates[activity.id]
        free = [k for k in range(party.units) if free_from[k] <= start]
        free.sort(key=lambda k: (last_at[k] != activity.reach, free_from[k], k))
        chosen = tuple(sorted(free[:units]))
        for k in chosen:
            free_from[k], last_at[k] = finish, activity.reach or last_at[k]
        taken[activity.id] = chosen
    return taken
