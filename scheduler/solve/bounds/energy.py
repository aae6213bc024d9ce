"""What is scarce in a network, counted: parties, rooms, visits, and limits on open trench.

All counts are in units of supply: one crew (or machine, or foot of open trench) for one open
tick, or one look in one visit. A claim asks for units between the earliest start of one
activity and the latest finish of another.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import accumulate

from scheduler.network.dates import hold_links
from scheduler.network.model import Activity, LinkType, Network, OpenLimit, Space, VisitRule
from scheduler.solve.formulation.precedence import Order
from scheduler.worktime.calendar import Calendar, Window


@dataclass(frozen=True, slots=True)
class Claim:
    """So many units, used between the start of `first` and the finish of `last`."""

    first: str
    last: str
    units: int


@dataclass(frozen=True, slots=True)
class Hours:
    """Supply by the hour: `capacity` units for each open tick of a calendar."""

    words: str
    claims: tuple[Claim, ...]
    calendar: Calendar
    capacity: int = 1

    def before_start(self, tick: int) -> int:
        """Return the units there are before a start."""
        return self.capacity * self.calendar.open_ticks(0, tick)

    def before_finish(self, tick: int) -> int:
        """Return the units there are before a finish."""
        return self.capacity * self.calendar.open_ticks(0, tick)

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
    claims: tuple[Claim, ...]
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


Supply = Hours | Visits


def supplies(network: Network, rank: Mapping[str, int]) -> list[Supply]:
    """Return everything scarce in a network, with the claims on it.

    `rank` gives each activity a place in line after all that it waits for.
    """
    order = Order(network)
    held = _Held(network)
    union = held.together(frozenset(a.calendar for a in network.activities if a.work > 0))
    rooms = [r for r in (_room(network, space, order, held) for space in network.spaces) if len(r.claims) > 1]
    limits = [limit for limit in network.open_limits if sum(n for _, n in limit.amounts) > limit.capacity]
    open_ticks = _least_open(network, rooms, order, rank) if limits else {}
    found: list[Supply] = [*_parties(network, held), *rooms]
    found += [s for rule in network.visit_rules for s in _visits(network, rule)]
    found += [_standing(network, limit, open_ticks, union) for limit in limits]
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
            windows = tuple(w for c in sorted(calendars) for w in self._network.calendars[c].windows)
            self._together[calendars] = Calendar(" + ".join(sorted(calendars)), "together", windows)
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


def _parties(network: Network, held: _Held) -> Iterator[Hours]:
    users: dict[str, list[tuple[Activity, int]]] = {r.id: [] for r in network.resources}
    for a in network.activities:
        for resource, units in a.needs:
            if a.work > 0 and units > 0:
                users[resource].append((a, units))
    for r in network.resources:
        if users[r.id] and r.capacity > 0:
            hours = frozenset(a.calendar for a, _ in users[r.id])
            claims = tuple(Claim(a.id, a.id, held.least(a, hours) * units) for a, units in users[r.id])
            yield Hours(f"all the work of {r.name}", claims, held.together(hours), r.capacity)


def _room(network: Network, space: Space, order: Order, held: _Held) -> Hours:
    groups: dict[str, list[str]] = {}
    for activity, group in space.occupants:
        if network.by_id[activity].work > 0:
            groups.setdefault(group, []).append(activity)
    counted: list[str] = []
    for members in groups.values():
        if all(_apart(network, order, a, b) for i, a in enumerate(members) for b in members[:i]):
            counted += members
        else:
            counted.append(max(members, key=lambda a: network.by_id[a].work))
    hours = frozenset(network.by_id[a].calendar for a in counted)
    claims = tuple(Claim(a, a, held.least(network.by_id[a], hours)) for a in counted)
    where = f"reach {space.reach}" if space.reach else space.id
    return Hours(f"one trade at a time in {where}", claims, held.together(hours))


def _apart(network: Network, order: Order, a: str, b: str) -> bool:
    """Say whether two activities of one group can never be at work at once."""
    needs = dict(network.by_id[a].needs)
    alone = any(
        needs.get(r, 0) + units > network.resource_by_id[r].capacity
        for r, units in network.by_id[b].needs
        if r in needs
    )
    return alone or order.known(a, b)


def _visits(network: Network, rule: VisitRule) -> Iterator[Visits]:
    windows = network.calendars[rule.calendar].windows
    looks = tuple(Claim(x, x, 1) for x in rule.looks)
    most = len(looks) if rule.max_looks is None else rule.max_looks
    words = f"what {rule.name} can look at in one visit"
    shared = (
        set.intersection(*({r for r, n in network.by_id[x].needs if n > 0} for x in rule.looks)) if looks else set()
    )
    shortest = min((network.by_id[x].work for x in rule.looks), default=0)
    for resource in sorted(shared):
        at_once = network.resource_by_id[resource].capacity // min(
            dict(network.by_id[x].needs)[resource] for x in rule.looks
        )
        yield Visits(words, looks, windows, most, at_once, shortest)
    if not shared and most < len(looks):
        yield Visits(words, looks, windows, most)
    if rule.max_ft is not None:
        feet = tuple(Claim(x, x, int(rule.look_ft.get(x, 0.0))) for x in rule.looks)
        if sum(c.units for c in feet) > rule.max_ft:
            yield Visits(f"the feet that {rule.name} can see in one visit", feet, windows, int(rule.max_ft))


def _standing(network: Network, limit: OpenLimit, least: dict[str, int], union: Calendar) -> Hours:
    amounts = dict(limit.amounts)
    claims = tuple(
        Claim(o.opens, o.closes, amounts[o.id] * least[o.id]) for o in network.openings if amounts.get(o.id, 0) > 0
    )
    words = limit.because or f"no more than {limit.capacity} {limit.unit} open at once"
    return Hours(words, claims, union, limit.capacity)


def _least_open(network: Network, rooms: list[Hours], order: Order, rank: Mapping[str, int]) -> dict[str, int]:
    """Return the open ticks, of all calendars together, that each opening must at least stand open."""
    after: dict[str, list[str]] = {a.id: [] for a in network.activities}
    for link in (*network.links, *hold_links(network)):
        if link.type is LinkType.FS and not link.at_most and link.lag >= 0:
            after[link.before].append(link.after)
    in_room: dict[str, list[Hours]] = {}
    for room in rooms:
        for claim in room.claims:
            in_room.setdefault(claim.first, []).append(room)
    least: dict[str, int] = {}
    for o in network.openings:
        between = _between(o.opens, o.closes, after, order)
        chain: dict[str, int] = {}
        for a in sorted(between, key=rank.__getitem__, reverse=True):
            chain[a] = network.by_id[a].work + max((chain[b] for b in after[a] if b in between), default=0)
        shared = (sum(c.units for c in room.claims if c.first in between) for room in in_room.get(o.opens, ()))
        least[o.id] = max(chain[o.opens], *shared, 0)
    return least


def _between(first: str, last: str, after: dict[str, list[str]], order: Order) -> set[str]:
    """Return both activities and all that links keep after the first and before the last."""
    found, stack = {first, last}, [first]
    while stack:
        for a in after[stack.pop()]:
            if a not in found and order.before(a, last):
                found.add(a)
                stack.append(a)
    return found
