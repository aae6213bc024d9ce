"""Orders of taking activities in hand, for passes of the serial generator."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.network.normal import Capacity
from scheduler.schedule import Span
from scheduler.solve.first_plan.calendar_fit import Fits
from scheduler.solve.first_plan.turns import Style, Turns

Key = tuple[int, float, int]


@dataclass(frozen=True, slots=True)
class Order:
    """What to take in hand first (lowest key), and how many stretches may stand open."""

    keys: Mapping[str, Key]
    standing: int | None = None
    whole: frozenset[str] = frozenset()
    """Activities to be put inside one window, lest they keep a party waiting over their own closed hours."""
    floors: Mapping[str, int] = field(default_factory=dict)
    """Starts that earlier passes found to be too early for what follows."""
    urgent: frozenset[str] = frozenset()
    """Activities that came too late in earlier passes, with all they wait for."""

    def key(self, activity: str) -> Key:
        """Return an activity's place in the order."""
        rank, need, place = self.keys[activity]
        return (-1, need, place) if activity in self.urgent else (rank, need, place)


class Orders:
    """The orders that suit one network."""

    def __init__(
        self,
        network: Network,
        propagation: Propagation,
        fits: Fits,
        earliest: Mapping[str, Span],
        latest: Mapping[str, Span],
    ) -> None:
        """`earliest` and `latest` are the dates that links and calendars leave."""
        self._fits = fits
        self.openers = frozenset(o.opens for o in network.openings)
        self._stretches = {(o.opens, o.closes) for o in network.openings} | lower(network).stretches
        self._network, self._earliest, self._latest = network, earliest, latest
        self._place = {a.id: i for i, a in enumerate(network.activities)}
        self._into = {
            a: [p.predecessor for p in precedences if not p.link.at_most] for a, precedences in propagation.into.items()
        }
        self._sequence = sorted(propagation.rank, key=propagation.rank.__getitem__)
        self._inside = self._below_openers()
        self.first, self.last = _windows(network, propagation)
        """The first and the last start that calendars and date rules alone allow."""
        self.limiting = frozenset(
            p.predecessor for precedences in propagation.into.values() for p in precedences if p.link.at_most
        )
        """Activities that others must not run too far ahead of."""

    def by_need(self, standing: int | None = None) -> Order:
        """Take first what must start first for the finish's sake."""
        return Order({a: (0, float(self._latest[a][0]), i) for a, i in self._place.items()}, standing)

    def following(self, starts: Mapping[str, float], *, whole: Iterable[str] = ()) -> Order:
        """Take things in hand in the order of given starts."""
        return Order({a: (0, starts[a], i) for a, i in self._place.items()}, whole=frozenset(whole))

    def by_turns(self, turns: Turns) -> Order:
        """Return the order that follows from the turns of the openers."""
        lead = self._leads(turns.openers)
        open_first = turns.style is not Style.ONE_BY_ONE
        keys: dict[str, Key] = {}
        for a, i in self._place.items():
            inside = a in self._inside and a not in self.openers
            need = float(self._latest[a][0])
            if a not in lead or (inside and turns.style is Style.BY_NEED):
                keys[a] = (1 if inside else 0, need, i)
            else:
                keys[a] = (1 if inside and open_first else 0, lead[a] + turns.nudges.get(a, 0.0), i)
        return Order(keys, turns.standing, frozenset(self._fits.whole if turns.whole else ()))

    def sequences(self) -> list[tuple[str, ...]]:
        """Return the sequences of openers to begin with, the most useful first."""
        by_need = sorted(self.openers, key=lambda o: (self._latest[o][0], self._place[o]))
        along = sorted(self.openers, key=self._place.__getitem__)
        found = [by_need, self._by_bottleneck(by_need), along, along[::-1]]
        return list(dict.fromkeys(tuple(s) for s in found))

    def before(self, activities: Iterable[str]) -> frozenset[str]:
        """Return the activities with everything they wait for."""
        found = set(activities)
        stack = list(found)
        while stack:
            for by in self._into[stack.pop()]:
                if by not in found:
                    found.add(by)
                    stack.append(by)
        return frozenset(found)

    def needed(self) -> dict[str, frozenset[str]]:
        """Return, for each activity that ends a stretch, what opens one and must have been at work before it."""
        bit = {o: 1 << i for i, o in enumerate(sorted({opens for opens, _ in self._stretches}))}
        above: dict[str, int] = {}
        for a in self._sequence:
            above[a] = bit.get(a, 0)
            for by in self._into[a]:
                above[a] |= above.get(by, 0)
        return {last: frozenset(x for x, b in bit.items() if above[last] & b) for _, last in self._stretches}

    def _leads(self, openers: Sequence[str]) -> dict[str, float]:
        """Return the turn each activity goes with.

        Inside the trench that is the last turn it waits for, elsewhere the first it leads to.
        """
        lead = {o: float(i) for i, o in enumerate(openers)}
        for a in self._sequence:
            if a in self._inside and a not in self.openers:
                lead[a] = max((lead[by] for by in self._into[a] if by in lead), default=0.0)
        for a in reversed(self._sequence):
            if a not in self._inside and a in lead:
                for by in self._into[a]:
                    lead[by] = min(lead.get(by, lead[a]), lead[a])
        return lead

    def _by_bottleneck(self, by_need: list[str]) -> list[str]:
        """Return the openers so that the busiest party is fed early and has little left to wait for at the end.

        Stretches that reach that party sooner than they leave it come first, the quickest to
        reach it foremost; then the others, the slowest to finish after it foremost.
        Source: the rule for two machines in S. M. Johnson (1954).
        """
        busiest = self.busiest()
        users = {use.first for use in busiest.uses} if busiest else set()
        lead = self._leads(by_need)
        heads: dict[int, int] = {}
        tails: dict[int, int] = {}
        for a in self._network.activities:
            turn = int(lead.get(a.id, -1.0))
            if turn >= 0 and a.id in users and a.id not in self.openers:
                head = self._earliest[a.id][0] - self._earliest[by_need[turn]][0]
                heads[turn] = min(heads.get(turn, head), head)
                tails[turn] = min(tails.get(turn, self._latest[a.id][1]), self._latest[a.id][1])
        last = max(finish for _, finish in self._latest.values())
        first = [i for i in range(len(by_need)) if heads.get(i, 0) <= last - tails.get(i, last)]
        then = [i for i in range(len(by_need)) if i not in set(first)]
        turns = sorted(first, key=lambda i: (heads.get(i, 0), i)) + sorted(then, key=lambda i: (tails.get(i, last), i))
        return [by_need[i] for i in turns]

    def busiest(self) -> Capacity | None:
        """Return the party with the most work for its hours; None when there are no parties."""
        by_id = self._network.by_id
        end = max((finish for _, finish in self._earliest.values()), default=0)

        def share(party: Capacity) -> float:
            load = sum(by_id[use.first].work * use.units for use in party.uses)
            return load / max(party.units * self._fits.hours[party.id].open_ticks(0, end), 1)

        parties = sorted((c for c in lower(self._network).capacities if c.is_party), key=lambda c: c.id)
        return max(parties, key=share, default=None)

    def _below_openers(self) -> frozenset[str]:
        """Return everything that some opener comes before."""
        below: set[str] = set()
        for a in self._sequence:
            if any(by in below or by in self.openers for by in self._into[a]):
                below.add(a)
        return frozenset(below)


def _windows(network: Network, propagation: Propagation) -> tuple[dict[str, int], dict[str, int]]:
    first: dict[str, int] = {}
    last: dict[str, int] = {}
    for a in network.activities:
        soonest, latest = propagation.allowed_from(a.id, 0), propagation.allowed_to(a.id, network.horizon)
        if soonest is None or latest is None:
            raise ValueError(f"{a.id} fits nowhere")
        first[a.id], last[a.id] = soonest, latest
    return first, last
