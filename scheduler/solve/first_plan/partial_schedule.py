"""A plan being built: which activities have dates, and where one more would fit.

The board knows every rule of a network but the target. It never holds a broken rule: an
activity is put only where `earliest` or `latest` found room for it.
"""

from __future__ import annotations

from dataclasses import replace

from scheduler.network.dates import Reckoning, last_start
from scheduler.network.model import Activity, Network, Opening
from scheduler.schedule import Span
from scheduler.solve.first_plan.calendar_fit import Fits
from scheduler.solve.first_plan.profiles import FAR, Calls, Pool, Room
from scheduler.worktime.calendar import Calendar

NEVER = Calendar("never", "never", ())
Stands = tuple[Pool, list[tuple[Opening, int]]]
"""A limit on open trench, and the stretches under it that an activity opens (or covers), with their amounts."""


class Board:
    """Dates so far, with everything they take up."""

    def __init__(self, network: Network, reckoning: Reckoning, fits: Fits, whole: frozenset[str] = frozenset()) -> None:
        """Make an empty board; `reckoning` and `fits` must be of the same network, with no target."""
        self.network, self.reckoning, self._fits = network, reckoning, fits
        self.whole = whole
        """Activities that are put inside one window, lest they keep a party waiting."""
        self.thrifty = False
        """Whether nothing is begun shortly before closed hours of its own in which it would keep a party waiting."""
        self.spans: dict[str, Span] = {}
        self._log: list[tuple[str, int | None]] | None = None
        self._before, self._after = fits.neighbours(reckoning)
        pools = {r.id: Pool(r.capacity, fits.hours[r.id]) for r in network.resources}
        self._pools = {a.id: [(pools[r], n) for r, n in a.needs if n > 0] for a in network.activities if a.work > 0}
        self._rooms: dict[str, list[tuple[Room, str]]] = {}
        for space in network.spaces:
            room = Room()
            for activity, group in space.occupants:
                if network.by_id[activity].work > 0:
                    self._rooms.setdefault(activity, []).append((room, group))
        self._calls: dict[str, list[Calls]] = {}
        for rule in network.visit_rules:
            calls = Calls(rule, network.calendars[rule.calendar])
            for look in rule.looks:
                self._calls.setdefault(look, []).append(calls)
        openings = {o.id: o for o in network.openings}
        self._opens: dict[str, list[Stands]] = {}
        self._closes: dict[str, list[Stands]] = {}
        for limit in network.open_limits:
            standing = Pool(limit.capacity, NEVER)
            opened: dict[str, list[tuple[Opening, int]]] = {}
            for id_, amount in limit.amounts:
                opened.setdefault(openings[id_].opens, []).append((openings[id_], amount))
                self._closes.setdefault(openings[id_].closes, []).append((standing, [(openings[id_], amount)]))
            for activity, stretches in opened.items():
                self._opens.setdefault(activity, []).append((standing, stretches))

    def begin_log(self) -> None:
        """Remember what is done from now on, and nothing from before."""
        self._log = []

    def undo_log(self) -> None:
        """Take back all that is remembered."""
        log, self._log = self._log or [], None
        for activity, start in reversed(log):
            if start is None:
                self.lift(activity)
            else:
                self.put(activity, start)
        self._log = []

    def put(self, activity: str, start: int) -> None:
        """Give an activity its dates."""
        if self._log is not None:
            self._log.append((activity, None))
        span = self._fits.at(self.network.by_id[activity], start)
        self._take(activity, span, 1)
        self._stand(activity, span, 1)
        self.spans[activity] = span

    def lift(self, activity: str) -> Span:
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
        for pull in waits.pulls:
            by = spans.get(pull.by)
            if by is not None:
                least = self.reckoning.floor(pull, by)
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
        for pull in waits.pulls:
            of = spans.get(pull.of)
            if of is not None:
                most = self.reckoning.ceiling(pull, of)
                if most is not None:
                    ceiling = min(ceiling, most)
        return ceiling

    def earliest(self, activity: str, floor: int) -> int | None:
        """Return the first start at or after `floor` with room for everything; None if there is none.

        A thrifty board takes a later one where that keeps a party from waiting for longer than it costs.
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
        start = self._last(record, self.reckoning.allowed_to(activity, ceiling))
        while start is not None and (clash := self._clash(record, self._fits.at(record, start))) is not None:
            # Nothing earlier helps where what this activity opens stands in the way later on.
            sooner = self._last(record, self.reckoning.last_start_by(activity, clash[0]))
            start = sooner if sooner is not None and sooner < start else None
        return start

    def _record(self, activity: str) -> Activity:
        return self._fits.whole[activity] if activity in self.whole else self.network.by_id[activity]

    def _last(self, record: Activity, start: int | None) -> int | None:
        """Return the last start up to an allowed one that keeps an activity in one window, where it should be."""
        if start is None or record is self.network.by_id[record.id]:
            return start
        whole = last_start(self.network, record, start)
        return whole if whole is not None and self.reckoning.allowed_from(record.id, whole) == whole else start

    def stands_too_long(self, activity: str) -> bool:
        """Say whether some limit leaves no room for what this activity opens until something else is covered."""
        for standing, stretches in self._opens.get(activity, ()):
            amount = sum(n for opening, n in stretches if opening.closes not in self.spans)
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
            since, amount = start, sum(n for _, n in stretches)
            for closed, n in sorted((self._closed(opening), n) for opening, n in stretches):
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
            opened = self.spans.get(stretches[0][0].opens)
            # What this activity covers already stands open in `standing`, without an end.
            if opened is not None and (clash := standing.clash(opened[0], finish, units=0)) is not None:
                return clash[0], FAR
        return None

    def _stand(self, activity: str, span: Span, sign: int) -> None:
        """Enter (or with -1 take back) what the activity leaves open from its start, and covers by its finish."""
        for standing, stretches in self._opens.get(activity, ()):
            for opening, amount in stretches:
                standing.add(span[0], self._closed(opening), sign * amount)
        for standing, stretches in self._closes.get(activity, ()):
            for opening, amount in stretches:
                if opening.opens in self.spans:
                    standing.add(span[1], FAR, -sign * amount)

    def _closed(self, opening: Opening) -> int:
        span = self.spans.get(opening.closes)
        return FAR if span is None else span[1]

    def _take(self, activity: str, span: Span, sign: int) -> None:
        for pool, units in self._pools.get(activity, ()):
            pool.add(span[0], span[1], sign * units)
        for room, group in self._rooms.get(activity, ()):
            if sign > 0:
                room.spans[activity] = (*span, group)
            else:
                del room.spans[activity]
        for calls in self._calls.get(activity, ()):
            if sign > 0:
                calls.add(activity, span[0])
            else:
                calls.remove(activity, span[0])


def plannable(network: Network) -> Network:
    """Return the network without its target, and with every inspector's look kept inside one window."""
    looks = {look for rule in network.visit_rules for look in rule.looks}
    activities = tuple(
        replace(a, one_window=True) if a.id in looks and not a.one_window else a for a in network.activities
    )
    return replace(network, target=None, activities=activities)
