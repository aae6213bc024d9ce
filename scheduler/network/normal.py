"""The four kinds of rule to which every family of a network comes down.

Whoever plans, bounds, explains or mends dates knows these four alone; `lowering` says how each
family becomes some of them. All times are ticks of the network's clock, spans are half-open
[start, finish). Each rule keeps where it comes from: the `family` (the field of the network),
the `record` (its id there), its sentence and its source.

* `DateBound`: the start or finish of one activity against a tick.
* `Link` (in `model`): one activity against another, with a lag.
* `Use` of a `Capacity`: from the start of one activity to the finish of another, so many units.
* `LookGroup`: looks that may share a visit in the windows of a calendar, with caps on a visit.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field, replace
from functools import cached_property

from scheduler.network.model import DateRole, Link
from scheduler.schedule import Span


@dataclass(frozen=True, slots=True)
class LaterLimit:
    """A later tick for a bound, bought at a price; buying it presumes those before it."""

    id: str
    at: int
    price: float | None = 0.0
    """None: the site file gives none."""


@dataclass(frozen=True, slots=True)
class DateBound:
    """A bound on one activity's start or finish against a tick.

    With a `price` it may be broken: all bounds of one record then give way together, and the
    price is paid once.
    """

    activity: str
    at: int
    edge: str = "start"
    """'start' or 'finish'."""
    sense: str = "min"
    """'min' not before, 'max' not after, 'fixed' exactly then."""
    family: str = ""
    record: str = ""
    because: str = ""
    source: str = ""
    later: tuple[LaterLimit, ...] = ()
    """Later ticks that can be had for the limit, in order."""
    role: DateRole = DateRole.DATE
    """What a date that was set stands for."""
    price: float | None = None
    """What it costs to break it; None: it must hold."""

    def at_with(self, bought: Collection[str] | None = None) -> int:
        """Return the tick with some later limits bought, by id; None: with all that can be."""
        return max([self.at, *(limit.at for limit in self.later if bought is None or limit.id in bought)])

    def bounded(self, span: Span) -> int:
        """Return the tick that it bounds of its activity's span."""
        return span[0] if self.edge == "start" else span[1]

    def is_kept(self, span: Span) -> bool:
        """Return whether the activity keeps it on such dates, no later limit bought."""
        tick = self.bounded(span)
        return (tick >= self.at or self.sense == "max") and (tick <= self.at or self.sense == "min")


@dataclass(frozen=True, slots=True)
class Use:
    """So many units of a capacity, from the start of `first` to the finish of `last`.

    Uses with the same `shared` word have the same unit between them, however many they are.
    """

    first: str
    last: str
    units: int = 1
    shared: str = ""
    name: str = ""
    """What is used so, such as the id of an opening; '' when the activity says enough."""

    @property
    def is_work(self) -> bool:
        """Whether it lasts as long as one activity."""
        return self.first == self.last


@dataclass(frozen=True, slots=True)
class Capacity:
    """At most `units` of something in use at any moment.

    Work of no ticks uses nothing; a use that lasts from one activity to another counts whatever
    the work of either is.
    """

    family: str
    record: str
    units: int
    uses: tuple[Use, ...]
    words: str
    """What there is too little of, as a bound says it: 'all the work of the excavator'."""
    because: str = ""
    source: str = ""

    @property
    def id(self) -> str:
        """A name that no other capacity of the network has."""
        return f"{self.family}/{self.record}"

    @property
    def is_room(self) -> bool:
        """Whether some of its uses share a unit, as people of one trade share a reach."""
        return any(use.shared for use in self.uses)

    @property
    def has_stretches(self) -> bool:
        """Whether some use lasts from one activity to another."""
        return any(not use.is_work for use in self.uses)

    @property
    def is_party(self) -> bool:
        """Whether every use is one activity's own, as of a crew or a machine."""
        return not self.is_room and not self.has_stretches


@dataclass(frozen=True, slots=True)
class LookGroup:
    """Looks of one authority: those that start in one window of `calendar` are one visit.

    `most_looks` and `most_ft` cap a visit, `ft` gives the feet that a look sees, `price` what a day with visits costs.
    """

    family: str
    record: str
    name: str
    authority: str
    calendar: str
    looks: tuple[str, ...]
    ft: Mapping[str, float] = field(default_factory=dict)
    most_looks: int | None = None
    most_ft: float | None = None
    price: float | None = 0.0
    because: str = ""
    source: str = ""
    wait_per_hour: float | None = 0.0
    """What an hour between two looks of one window costs."""
    person: str = ""
    """Who looks; what one person looks at on one day is paid for once, whatever groups it is of."""


LoweredRule = DateBound | Link | Capacity | LookGroup


@dataclass(frozen=True, eq=False)
class NormalForm:
    """All rules of one network, by kind, each kind in the order of the families and their records."""

    bounds: tuple[DateBound, ...]
    links: tuple[Link, ...]
    capacities: tuple[Capacity, ...]
    look_groups: tuple[LookGroup, ...]

    @cached_property
    def firm(self) -> tuple[DateBound, ...]:
        """The bounds that must hold."""
        return tuple(b for b in self.bounds if b.price is None)

    @cached_property
    def floors(self) -> tuple[DateBound, ...]:
        """The firm bounds before which something may not happen; those after which it may not are left out."""
        return tuple(b for b in self.firm if b.sense == "min")

    @cached_property
    def priced(self) -> dict[str, tuple[DateBound, ...]]:
        """The bounds that may be broken at a price, by record."""
        return _by_record(b for b in self.bounds if b.price is not None)

    @cached_property
    def renewable(self) -> dict[str, tuple[DateBound, ...]]:
        """The firm bounds for which later limits can be bought, by record."""
        return _by_record(b for b in self.firm if b.later)

    @cached_property
    def held_by(self) -> dict[str, tuple[tuple[Capacity, int], ...]]:
        """What each activity holds from its start to its finish and shares with nobody, and how many units."""
        table: dict[str, list[tuple[Capacity, int]]] = {}
        for capacity in self.capacities:
            for use in capacity.uses:
                if use.is_work and not use.shared:
                    table.setdefault(use.first, []).append((capacity, use.units))
        return {a: tuple(held) for a, held in table.items()}

    @cached_property
    def stretches(self) -> frozenset[tuple[str, str]]:
        """The first and the last activity of each use that lasts from one to another."""
        return frozenset((u.first, u.last) for c in self.capacities for u in c.uses if not u.is_work)

    def broken(self, dates: Mapping[str, Span]) -> tuple[str, ...]:
        """Return the records whose bounds dates break at their price."""
        return tuple(
            record for record, bounds in self.priced.items() if not all(b.is_kept(dates[b.activity]) for b in bounds)
        )

    def among(self, kept: AbstractSet[str]) -> NormalForm:
        """Return the rules that speak of some activities alone, of others what is left of them without the rest."""
        capacities = (replace(c, uses=tuple(u for u in c.uses if {u.first, u.last} <= kept)) for c in self.capacities)
        groups = (replace(g, looks=tuple(look for look in g.looks if look in kept)) for g in self.look_groups)
        return NormalForm(
            tuple(b for b in self.bounds if b.activity in kept),
            tuple(k for k in self.links if k.before in kept and k.after in kept),
            tuple(c for c in capacities if c.uses),
            tuple(g for g in groups if g.looks),
        )

    @cached_property
    def finished_first(self) -> frozenset[tuple[str, str]]:
        """Pairs of activities of which a link lets the second start only when the first has finished."""
        return frozenset((k.before, k.after) for k in self.links if k.keeps_apart)


def _by_record(bounds: Iterable[DateBound]) -> dict[str, tuple[DateBound, ...]]:
    table: dict[str, list[DateBound]] = {}
    for bound in bounds:
        table.setdefault(bound.record, []).append(bound)
    return {record: tuple(found) for record, found in table.items()}
