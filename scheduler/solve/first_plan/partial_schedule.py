"""A plan being built: which activities have dates, and where one more would fit.

A partial schedule keeps every rule of its network but the target: an activity is inserted only
where `earliest` or `latest` found room for it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from scheduler.network.dates import Propagation, last_start
from scheduler.network.lowering import lower, without_target
from scheduler.network.model import Activity, Network
from scheduler.network.normal import Capacity, Use
from scheduler.schedule import Span
from scheduler.solve.first_plan.calendar_fit import CalendarFit
from scheduler.solve.first_plan.profiles import FAR, ResourceProfile, SpaceProfile, VisitProfile

Stands = tuple[ResourceProfile, list[Use]]
"""A limit on what stands open, and the stretches under it that an activity opens (or covers)."""


class PartialSchedule:
    """Dates so far, with everything they take up."""

    def __init__(
        self, network: Network, propagation: Propagation, fits: CalendarFit, whole: frozenset[str] = frozenset()
    ) -> None:
        """Make an empty schedule; `propagation` and `fits` must be of the same network, with no target."""
        self.network, self.propagation, self._fits = network, propagation, fits
        self.whole = whole
        """Activities that are kept inside one window, lest they keep a party waiting."""
        self.thrifty = False
        """Whether nothing is begun shortly before closed hours of its own in which it would keep a party waiting."""
        self.spans: dict[str, Span] = {}
        self._log: list[tuple[str, int | None]] | None = None
        self._before, self._after = fits.neighbours(propagation)
        self._pools: dict[str, list[tuple[ResourceProfile, int]]] = {}
        self._rooms: dict[str, list[tuple[SpaceProfile, str]]] = {}
        self._opens: dict[str, list[Stands]] = {}
        self._closes: dict[str, list[Stands]] = {}
        self._calls: dict[str, list[VisitProfile]] = {}
        normal = lower(network)
        for capacity in normal.capacities:
            if capacity.is_room:
                self._add_room(capacity)
            else:
                self._add_pool(capacity, ResourceProfile(capacity.units, fits.hours[capacity.id]))
        for group in normal.look_groups:
            calls = VisitProfile(group, network.calendars[group.calendar])
            for look in group.looks:
                self._calls.setdefault(look, []).append(calls)

    def _add_room(self, capacity: Capacity) -> None:
        room = SpaceProfile()
        for use in capacity.uses:
            self._rooms.setdefault(use.first, []).append((room, use.shared))

    def _add_pool(self, capacity: Capacity, pool: ResourceProfile) -> None:
        opened: dict[str, list[Use]] = {}
        for use in capacity.uses:
            if use.is_work:
                self._pools.setdefault(use.first, []).append((pool, use.units))
            else:
                opened.setdefault(use.first, []).append(use)
                self._closes.setdefault(use.last, []).append((pool, [use]))
        for activity, stretches in opened.items():
            self._opens.setdefault(activity, []).append((pool, stretches))

    def begin_log(self) -> None:
        """Remember what is done from now on, and nothing from before."""
        self._log = []

    def undo_log(self) -> None:
        """Take back all that is remembered."""
        log, self._log = self._log or [], None
        for activity, start in reversed(log):
            if start is None:
                self.remove(activity)
            else:
                self.insert(activity, start)
        self._log = []

    def insert(self, activity: str, start: int) -> None:
        """Give an activity its dates."""
        if self._log is not None:
            self._log.append((activity, None))
        span = self._fits.at(self.network.by_id[activity], start)
        self._take(activity, span, 1)
        self._stand(activity, span, 1)
        self.spans[activity] = span

    def insert_all(self, dates: Mapping[str, Span]) -> None:
        """Give activities the dates they have in a plan, in order of time."""
        for activity in sorted(dates, key=lambda a: (dates[a], a)):
            self.insert(activity, dates[activity][0])

    def remove(self, activity: str) -> Span:
        """Take an activity's dates away, and return them."""
        span = self.spans.pop(activity)
        if self._log is not None:
            self._log.append((activity, span[0]))
        self._take(activity, span, -1)
        self._stand(activity, span, -1)
        return span

    def floor(self, activity: str) -> int:
        """Return the tick before which the activities already dated forbid a start."""
        floor, spans, waits = self.network.data_date, self.spans, self._before[activity]
        for other in waits.plain:
            if other in spans and spans[other][1] > floor:
                floor = spans[other][1]
        for precedence in waits.precedences:
            by = spans.get(precedence.predecessor)
            if by is not None:
                least = self.propagation.floor(precedence, by)
                floor = max(floor, FAR if least is None else least)
        return floor

    def ceiling(self, activity: str) -> int:
        """Return the last start that the activities already dated allow."""
        end, spans, waits = FAR, self.spans, self._after[activity]
        for other in waits.plain:
            if other in spans and spans[other][0] < end:
                end = spans[other][0]
        ceiling = self.network.horizon
        if end < FAR:
            record = self.network.by_id[activity]
            start = self.network.calendars[record.calendar].retreat(end, record.work)
            ceiling = -1 if start is None else min(start, ceiling)
        for precedence in waits.precedences:
            of = spans.get(precedence.successor)
            if of is not None:
                most = self.propagation.ceiling(precedence, of)
                if most is not None:
                    ceiling = min(ceiling, most)
        return ceiling

    def earliest(self, activity: str, floor: int) -> int | None:
        """Return the first start at or after `floor` with room for everything; None if there is none.

        A thrifty schedule takes a later one where that keeps a party from waiting for longer than it costs.
        """
        record = self._record(activity)
        span = self._first(record, floor)
        if span is None or not self.thrifty or record.one_window or activity not in self._fits.whole:
            return None if span is None else span[0]
        wasted = self._wasted(record, span)
        if wasted > 0 and (whole := self._first(self._fits.whole[activity], span[0])) is not None:
            later = self.network.calendars[record.calendar].open_ticks(span[1], whole[1])
            if wasted - self._wasted(record, whole) > later:
                return whole[0]
        return span[0]

    def _first(self, record: Activity, floor: int) -> Span | None:
        span = self._fits.first(record, floor)
        while span is not None and (clash := self._clash(record, span)) is not None:
            span = None if clash[1] >= FAR else self._fits.first(record, clash[1])
        return span

    def _wasted(self, record: Activity, span: Span) -> int:
        """Return for how long an activity keeps one of its parties waiting over its own closed hours."""
        pools = self._pools.get(record.id, ())
        return max((pool.hours.open_ticks(*span) for pool, _ in pools), default=record.work) - record.work

    def latest(self, activity: str, ceiling: int) -> int | None:
        """Return the last start at or before `ceiling` with room for everything; None if there is none."""
        record = self._record(activity)
        start = self._last(record, self.propagation.allowed_to(activity, ceiling))
        while start is not None and (clash := self._clash(record, self._fits.at(record, start))) is not None:
            # Nothing earlier helps where what this activity opens stands in the way later on.
            sooner = self._last(record, self.propagation.last_start_by(activity, clash[0]))
            start = sooner if sooner is not None and sooner < start else None
        return start

    def _record(self, activity: str) -> Activity:
        return self._fits.whole[activity] if activity in self.whole else self.network.by_id[activity]

    def _last(self, record: Activity, start: int | None) -> int | None:
        """Return the last start up to an allowed one that keeps an activity in one window, where it should be."""
        if start is None or record is self.network.by_id[record.id]:
            return start
        whole = last_start(self.network, record, start)
        return whole if whole is not None and self.propagation.allowed_from(record.id, whole) == whole else start

    def stands_too_long(self, activity: str) -> bool:
        """Say whether some limit leaves no room for what this activity opens until something else is covered."""
        for standing, stretches in self._opens.get(activity, ()):
            amount = sum(use.units for use in stretches if use.last not in self.spans)
            if amount and standing.last_clash(-1, amount) == FAR:
                return True
        return False

    def _clash(self, activity: Activity, span: Span) -> Span | None:
        start, finish = span
        for pool, units in self._pools.get(activity.id, ()):
            if (clash := pool.clash(start, finish, units=units, work=activity.work)) is not None:
                return clash
        for room, group in self._rooms.get(activity.id, ()):
            if (clash := room.clash(start, finish, group)) is not None:
                return clash
        for calls in self._calls.get(activity.id, ()):
            if (clash := calls.clash(activity.id, start)) is not None:
                return clash
        return self._standing_clash(activity.id, start, finish)

    def _standing_clash(self, activity: str, start: int, finish: int) -> Span | None:
        """Return when a limit on open trench leaves no room for what this activity opens or covers."""
        for standing, stretches in self._opens.get(activity, ()):
            since, amount = start, sum(use.units for use in stretches)
            for closed, n in sorted((self._closed(use), use.units) for use in stretches):
                if closed == FAR:
                    end = standing.last_clash(since, amount)
                    if end is not None:
                        return start, end
                    break
                if since < closed:
                    if (clash := standing.clash(since, closed, units=amount)) is not None:
                        return clash
                    since = closed
                amount -= n
        for standing, stretches in self._closes.get(activity, ()):
            opened = self.spans.get(stretches[0].first)
            # What this activity covers already stands open in `standing`, without an end.
            if opened is not None and (clash := standing.clash(opened[0], finish, units=0)) is not None:
                return clash[0], FAR
        return None

    def _stand(self, activity: str, span: Span, sign: int) -> None:
        """Enter (or with -1 take back) what the activity leaves open from its start, and covers by its finish."""
        for standing, stretches in self._opens.get(activity, ()):
            for use in stretches:
                standing.add(span[0], self._closed(use), sign * use.units)
        for standing, stretches in self._closes.get(activity, ()):
            for use in stretches:
                if use.first in self.spans:
                    standing.add(span[1], FAR, -sign * use.units)

    def _closed(self, use: Use) -> int:
        span = self.spans.get(use.last)
        return FAR if span is None else span[1]

    def _take(self, activity: str, span: Span, sign: int) -> None:
        for pool, units in self._pools.get(activity, ()):
            pool.add(span[0], span[1], sign * units)
        for room, group in self._rooms.get(activity, ()):
            if sign > 0:
                room.add(activity, span, group)
            else:
                room.remove(activity)
        for calls in self._calls.get(activity, ()):
            if sign > 0:
                calls.add(activity, span[0])
            else:
                calls.remove(activity, span[0])


def plannable(network: Network) -> Network:
    """Return the network without its target, and with every inspector's look kept inside one window."""
    looks = {look for group in lower(network).look_groups for look in group.looks}
    activities = tuple(
        replace(a, one_window=True) if a.id in looks and not a.one_window else a for a in network.activities
    )
    return without_target(network, activities)
