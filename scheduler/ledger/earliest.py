"""When what stands against covering can be cleared: by its booking, else the plan, else calendar and notice."""

from __future__ import annotations

from datetime import datetime

from scheduler.ledger.clearance import Clearance
from scheduler.ledger.events import InspectionFailed
from scheduler.ledger.hold_standing import HoldStatus
from scheduler.ledger.holds import HoldPoint, look_length, point_of, visits_for
from scheduler.ledger.mending import mended_at, mender, tests_again
from scheduler.ledger.moments import elapsed
from scheduler.network.hours import after_notice
from scheduler.network.model import Hold, Network
from scheduler.network.outside import outside_id
from scheduler.schedule import Schedule
from scheduler.site.site_record import Site


class Earliest:
    """Reckons from the moment of the question when each hold point can be cleared."""

    def __init__(self, clearance: Clearance, now: datetime, schedule: Schedule | None) -> None:
        self.clearance, self.now, self.schedule = clearance, now, schedule
        self.network, self.state = clearance.known.network, clearance.known.state
        self._known: dict[str, datetime | None] = {}
        self._points: dict[str, HoldPoint] = {}

    def planned(self, activity: str) -> tuple[datetime, datetime] | None:
        """Return the plan's dates of an activity."""
        span = self.schedule.dates.get(activity) if self.schedule else None
        return (self.network.clock.when(span[0]), self.network.clock.when(span[1])) if span else None

    def of(self, point: HoldPoint) -> datetime | None:
        """Return when a hold can be cleared; None when nobody can tell, or nobody may release it."""
        if not point.releasers:
            return None
        if point.status in (HoldStatus.PASSED, HoldStatus.DOUBTFUL):
            return self.now
        if point.hold.id not in self._known:
            self._known[point.hold.id] = None
            self._known[point.hold.id] = self._next_look(point.hold)
        return self._known[point.hold.id]

    def _point(self, hold: Hold) -> HoldPoint:
        if hold.id not in self._points:
            self._points[hold.id] = point_of(self.clearance, hold)
        return self._points[hold.id]

    def _next_look(self, hold: Hold) -> datetime | None:
        network, clock = self.network, self.network.clock
        mended = self._mended(hold)
        if mended is None:
            return None
        told = (d.not_before for d in self.state.delays if hold.look in d.about)
        floor = max([self.now, mended, *told, *self._before(hold)])
        for visit in visits_for(network, self.state, hold):
            if visit.booked.start >= floor:
                return elapsed(visit.booked.start, look_length(network, hold))
        planned = self.planned(hold.look)
        if planned is not None and planned[0] >= floor:
            return planned[1]
        look = network.by_id[hold.look]
        calendar = network.calendars[look.calendar]
        notice = notice_days(self.clearance.known.site, network, hold)
        called = after_notice(clock, calendar, clock.tick(self.now, up=True), notice)
        if called is None:
            return None
        tick = max(called, clock.tick(floor, up=True))
        for start, end in calendar.windows_from(tick):
            begin = max(start, tick)
            if end - begin >= look.work:
                return clock.when(begin + look.work)
        return None

    def _mended(self, hold: Hold) -> datetime | None:
        """Return when what failed at the last look can be mended, and tested again; now where nothing failed.

        None when working hours end before that.
        """
        network, clock, look = self.network, self.network.clock, self._point(hold).look
        if not isinstance(look, InspectionFailed):
            return self.now
        mended = mended_at(self.state, network.by_id[hold.look], look.when, self.now)
        ready: int | None = clock.tick(self.now, up=True)
        if ready is not None and mended is None:
            doer = mender(network, hold.look) or network.by_id[hold.look]
            ready = network.calendars[doer.calendar].advance(ready, clock.ticks(hours=look.repair_hours))
        last = ready
        for link in tests_again(network, self.state, hold.look, mended or look.when):
            test = network.by_id[link.before]
            done = None if ready is None else network.calendars[test.calendar].advance(ready, test.work)
            if done is not None and link.lag_calendar:
                done = network.calendars[link.lag_calendar].advance(done, link.lag)
            elif done is not None:
                done += link.lag
            last = None if done is None or last is None else max(last, done)
        return None if last is None else clock.when(last)

    def _before(self, hold: Hold) -> list[datetime]:
        """Return when work that this look must follow can be done, where that waits for another hold."""
        network, clock = self.network, self.network.clock
        first = {k.before for k in network.links if k.after == hold.look and not k.at_most}
        times = []
        for other in network.holds:
            for gate in first.intersection(other.gates):
                point = self._point(other)
                cleared = None if point.clear else self.of(point)
                if cleared is not None and self.state.actual(gate).finish is None:
                    work, tick = network.by_id[gate].work, clock.tick(cleared, up=True)
                    done = network.calendar_of(gate).advance(tick, work)
                    times += [clock.when(done)] if done is not None else []
        return times


def notice_days(site: Site, network: Network, hold: Hold) -> int:
    """Return how many working days of notice whoever clears a hold asks for."""
    rule = next((r.id for r in network.visit_rules if hold.look in r.looks), "")
    days = [i.notice_days for i in site.inspections if i.id == rule]
    days += [w.notice_days for w in site.outside_work if outside_id(w.id) == hold.look]
    return max(days, default=0)
