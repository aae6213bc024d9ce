"""What is scarce in a network, counted: parties, rooms, visits, and limits on open trench.

All counts are in units of supply: one crew (or machine, or foot of open trench) for one open
tick, or one look in one visit. A use asks for units between the earliest start of one activity
and the latest finish of another; here its `units` are of supply too.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import accumulate

from scheduler.network.dates import reached
from scheduler.network.lowering import lower
from scheduler.network.model import Activity, Network
from scheduler.network.normal import Capacity, LookGroup, Use
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.worktime.calendar import Calendar, Window, union


@dataclass(frozen=True, slots=True)
class OpenHours:
    """Supply by the hour: `capacity` units for each open tick of a calendar."""

    words: str
    uses: tuple[Use, ...]
    calendar: Calendar
    capacity: int = 1

    def before_start(self, tick: int) -> int:
        """Return the units there are before a start, or before a finish."""
        return self.capacity * self.calendar.open_ticks(0, tick)

    before_finish = before_start

    def later(self, tick: int, units: int) -> int | None:
        """Return the tick by which so many more units have passed."""
        return self.calendar.advance(tick, -(-units // self.capacity))


@dataclass(frozen=True)
class Visits:
    """Supply by the visit: so many looks (or feet) in each window of an authority's calendar.

    A window gives `most` units; or less, when only `at_once` looks of at least `shortest`
    ticks can be made at a time.
    """

    words: str
    uses: tuple[Use, ...]
    windows: Sequence[Window]
    most: int
    at_once: int | None = None
    shortest: int = 0
    _before: tuple[int, ...] = field(init=False, repr=False)
    _starts: tuple[int, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        each = (self.within(b - a) for a, b in self.windows)
        object.__setattr__(self, "_before", tuple(accumulate(each, initial=0)))
        object.__setattr__(self, "_starts", tuple(a for a, _ in self.windows))

    def within(self, ticks: int) -> int:
        """Return the units in the first so many ticks of a window."""
        if self.at_once is None or self.shortest <= 0:
            return self.most
        return min(self.most, self.at_once * (ticks // self.shortest))

    def before_start(self, tick: int) -> int:
        """Return the units of the windows before the one a start lies in."""
        return self._before[max(bisect_right(self._starts, tick) - 1, 0)]

    def before_finish(self, tick: int) -> int:
        """Return the units of the windows up to a finish."""
        i = bisect_left(self._starts, tick) - 1
        if i < 0:
            return 0
        a, b = self.windows[i]
        return self._before[i] + self.within(min(tick, b) - a)

    def later(self, tick: int, units: int) -> int | None:
        """Return the first tick of the window in which so many more units have passed."""
        i = bisect_left(self._before, self.before_finish(tick) + units)
        return None if i >= len(self._before) else max(self._starts[i - 1], tick) + 1


Supply = OpenHours | Visits


def supplies(network: Network, rank: Mapping[str, int]) -> list[Supply]:
    """Return everything scarce in a network, with the uses of it.

    `rank` gives each activity a place in line after all that it waits for.
    """
    order, held, normal = PrecedenceOrder(network), _Held(network), lower(network)
    rooms = [r for c in normal.capacities if c.is_room and len((r := _room(network, c, order, held)).uses) > 1]
    limits = [c for c in normal.capacities if c.has_stretches and sum(u.units for u in c.uses) > c.units]
    open_ticks = _least_open(network, limits, rooms, order, rank)
    found: list[Supply] = [_party(network, c, held) for c in normal.capacities if c.is_party and c.uses and c.units > 0]
    found += rooms
    found += [s for group in normal.look_groups for s in _visits(network, group)]
    found += [_standing(network, limit, open_ticks, held) for limit in limits]
    return found


class _Held:
    """How many hours of a party or room its users take, whatever dates they get.

    A user whose own calendar closes while others may work keeps what it holds meanwhile.
    """

    def __init__(self, network: Network) -> None:
        self._network = network
        self._together: dict[frozenset[str], Calendar] = {}
        self._known: dict[tuple[frozenset[str], str, int], int] = {}

    def together(self, calendars: frozenset[str]) -> Calendar:
        """Return the hours in which any of these calendars is open."""
        if calendars not in self._together:
            self._together[calendars] = union(self._network.calendars[c] for c in sorted(calendars))
        return self._together[calendars]

    def least(self, activity: Activity, calendars: frozenset[str]) -> int:
        """Return the fewest ticks open in any of these calendars from the activity's start to its finish."""
        key = calendars, activity.calendar, activity.work
        if len(calendars) == 1:
            return activity.work
        if key not in self._known:
            own = self._network.calendars[activity.calendar]
            self._known[key] = _least_together(own, self.together(calendars), activity.work)
        return self._known[key]


def _least_together(own: Calendar, together: Calendar, work: int) -> int:
    """Return the fewest ticks open together from start to finish of work done in its own hours.

    Within a window the count changes only where the start or the finish meets its edge.
    """
    least: int | None = None
    for a, b in own.windows:
        finish, start = own.advance(a, work), own.retreat(b, work)
        for s, f in ((a, finish), (start, b)):
            if s is not None and f is not None:
                ticks = together.open_ticks(s, f)
                least = ticks if least is None or ticks < least else least
        if least == work:
            break
    return work if least is None else least


def _party(network: Network, party: Capacity, held: _Held) -> OpenHours:
    hours = frozenset(network.by_id[use.first].calendar for use in party.uses)
    uses = tuple(replace(use, units=held.least(network.by_id[use.first], hours) * use.units) for use in party.uses)
    return OpenHours(party.words, uses, held.together(hours), party.units)


def _room(network: Network, room: Capacity, order: PrecedenceOrder, held: _Held) -> OpenHours:
    groups: dict[str, list[str]] = {}
    for use in room.uses:
        groups.setdefault(use.shared, []).append(use.first)
    counted: list[str] = []
    for members in groups.values():
        if order.one_at_a_time(members):
            counted += members
        else:
            counted.append(max(members, key=lambda a: network.by_id[a].work))
    hours = frozenset(network.by_id[a].calendar for a in counted)
    uses = tuple(Use(a, a, held.least(network.by_id[a], hours)) for a in counted)
    return OpenHours(room.words, uses, held.together(hours))


def _visits(network: Network, group: LookGroup) -> Iterator[Visits]:
    windows = network.calendars[group.calendar].windows
    looks = tuple(Use(x, x) for x in group.looks)
    most = len(looks) if group.most_looks is None else group.most_looks
    words = f"what {group.name} can look at in one visit"
    held_by = lower(network).held_by
    held = [{c.id: (c, units) for c, units in held_by.get(x, ())} for x in group.looks]
    shared = set.intersection(*(set(h) for h in held)) if held else set()
    shortest = min((network.by_id[x].work for x in group.looks), default=0)
    for id_ in sorted(shared):
        capacity, _ = held[0][id_]
        yield Visits(words, looks, windows, most, capacity.units // min(h[id_][1] for h in held), shortest)
    if not shared and most < len(looks):
        yield Visits(words, looks, windows, most)
    if group.most_ft is not None:
        feet = tuple(Use(x, x, int(group.ft.get(x, 0.0))) for x in group.looks)
        if sum(use.units for use in feet) > group.most_ft:
            yield Visits(f"the feet that {group.name} can see in one visit", feet, windows, int(group.most_ft))


def _standing(network: Network, limit: Capacity, least: Mapping[tuple[str, str], int], held: _Held) -> OpenHours:
    every = frozenset(a.calendar for a in network.activities if a.work > 0)
    uses = tuple(
        replace(
            use,
            units=use.units
            * (held.least(network.by_id[use.first], every) if use.is_work else least[use.first, use.last]),
        )
        for use in limit.uses
    )
    return OpenHours(limit.words, uses, held.together(every), limit.units)


def _least_open(
    network: Network,
    limits: Sequence[Capacity],
    rooms: Sequence[OpenHours],
    order: PrecedenceOrder,
    rank: Mapping[str, int],
) -> dict[tuple[str, str], int]:
    """Return the open ticks, of all calendars together, that each stretch must at least stand open."""
    after: dict[str, list[str]] = {a.id: [] for a in network.activities}
    for link in lower(network).links if limits else ():
        if link.keeps_apart:
            after[link.before].append(link.after)
    in_room: dict[str, list[OpenHours]] = {}
    for room in rooms:
        for use in room.uses:
            in_room.setdefault(use.first, []).append(room)
    least: dict[tuple[str, str], int] = {}
    for first, last in dict.fromkeys((use.first, use.last) for limit in limits for use in limit.uses):
        between = _between(first, last, after, order)
        chain: dict[str, int] = {}
        for a in sorted(between, key=rank.__getitem__, reverse=True):
            chain[a] = network.by_id[a].work + max((chain[b] for b in after[a] if b in between), default=0)
        shared = (sum(use.units for use in room.uses if use.first in between) for room in in_room.get(first, ()))
        least[first, last] = max(chain[first], *shared, 0)
    return least


def _between(first: str, last: str, after: Mapping[str, list[str]], order: PrecedenceOrder) -> set[str]:
    """Return both activities and all that links keep after the first and before the last."""
    return {last} | reached([first], lambda a: (b for b in after[a] if order.before(b, last)))
