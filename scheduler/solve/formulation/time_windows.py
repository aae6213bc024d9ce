"""A network on its work-time axis: what starts each activity may have, before any search.

Rules that bind one activity against the clock are applied to the list of its starts, and
links narrow that list further, so that the search sees only what is possible.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping

import numpy as np

from scheduler.network.lowering import lower
from scheduler.network.model import Activity, Link, LinkType, Network
from scheduler.network.normal import DateBound
from scheduler.solve.formulation.milestones import Milestones
from scheduler.worktime.axis import Axis, Spans, Ticks
from scheduler.worktime.calendar import Calendar

BEFORE_EDGE = {LinkType.FS: "finish", LinkType.SS: "start", LinkType.FF: "finish", LinkType.SF: "start"}
AFTER_EDGE = {LinkType.FS: "start", LinkType.SS: "start", LinkType.FF: "finish", LinkType.SF: "finish"}


class TimeWindows:
    """The axis of a network, and the spans each activity may still have on it."""

    def __init__(self, network: Network, *, apply_rules: bool = True) -> None:
        self.network = network
        moments = Milestones(network)
        self._from_start = moments.at_starts
        used = sorted({a.calendar for a in network.activities if a.work > 0})
        calendars = [network.calendars[c] for c in used]
        if moments.anywhere:
            calendars.append(Calendar("any", "any time", ((network.data_date, network.horizon),)))
        self.axis = Axis(calendars, begin=network.data_date, end=network.horizon)
        self.is_part = False
        """Whether all that is fixed here comes from a plan that keeps every rule."""
        self._maps: dict[tuple[str, str, int, str | None, bool], Ticks] = {}
        self.spans: dict[str, Spans] = {a.id: self.all_spans(a) for a in network.activities}
        if apply_rules:
            for bound in lower(network).firm:
                self.spans[bound.activity] = self.within(bound, self.spans[bound.activity])

    def all_spans(self, activity: Activity) -> Spans:
        """Return the spans that an activity's calendar allows."""
        calendar = self.network.calendars[activity.calendar]
        return self.axis.spans(
            calendar, activity.work, one_window=activity.one_window, least_start=activity.least_start
        )

    def edge_clock(self, activity: str, edge: str) -> Ticks:
        """Return the clock tick of each work tick, read as this activity's start or finish.

        Work of no ticks starts and finishes at one moment: it is read as an end, or as a
        start when something makes it wait for a moment that may be a morning.
        """
        if self.network.by_id[activity].work == 0:
            edge = "start" if activity in self._from_start else "finish"
        return self.axis.starts if edge == "start" else self.axis.ends

    def edge_ticks(self, activity: str, edge: str) -> Ticks:
        """Return the work ticks at which an activity may still start or finish."""
        spans = self.spans[activity]
        return spans.starts if edge == "start" else spans.ends

    def within(self, bound: DateBound, spans: Spans) -> Spans:
        """Return the spans that keep a date bound, by the latest limit that can be had."""
        clock, at = self.edge_clock(bound.activity, bound.edge), bound.at_with()
        first, last = 0, len(self.axis)
        if bound.sense in ("min", "fixed"):
            first = int(np.searchsorted(clock, at))
        if bound.sense in ("max", "fixed"):
            last = int(np.searchsorted(clock, at, side="right")) - 1
        return spans.between(first, last, bound.edge)

    def lag_map(self, link: Link) -> Ticks:
        """Return, for each work tick of the link's `before` end, the tick its `after` end is bound by.

        The first tick not too early (one past the axis when there is none), or with
        `at_most` the last tick not too late (-1 when there is none).
        """
        source = self.edge_clock(link.before, BEFORE_EDGE[link.type])
        target = self.edge_clock(link.after, AFTER_EDGE[link.type])
        names = ["start" if clock is self.axis.starts else "end" for clock in (source, target)]
        key = (names[0], names[1], link.lag, link.lag_calendar, link.at_most)
        if key not in self._maps:
            calendar = None if link.lag_calendar is None else self.network.calendars[link.lag_calendar]
            due = self.axis.after_lag(source, link.lag, calendar)
            if link.at_most:
                self._maps[key] = np.searchsorted(target, due, side="right") - 1
            elif self.is_plain(link):
                self._maps[key] = np.arange(len(self.axis) + 1)
            else:
                self._maps[key] = np.searchsorted(target, due)
        return self._maps[key]

    def is_plain(self, link: Link) -> bool:
        """Say whether a link asks, on this axis too, only that one activity starts no earlier than another ends."""
        if not link.is_plain:
            return False
        source, target = self.edge_clock(link.before, "finish"), self.edge_clock(link.after, "start")
        return source is target or source is self.axis.ends

    def empty(self) -> str | None:
        """Return the first activity that can't be placed at all, if any."""
        return next((a.id for a in self.network.activities if not len(self.spans[a.id].starts)), None)

    def narrow(self, last_end: int | None = None) -> bool:
        """Cut the spans that links rule out, every end at or before `last_end`.

        Returns False when some activity can't be placed.
        """
        if last_end is not None:
            for a, spans in self.spans.items():
                self.spans[a] = spans.between(0, last_end, "finish")
        if self.empty() is not None:
            return False
        touching: dict[str, list[Link]] = {a.id: [] for a in self.network.activities}
        for link in lower(self.network).links:
            touching[link.before].append(link)
            touching[link.after].append(link)
        return self._spread(touching)

    def until(self, last_end: int) -> TimeWindows | None:
        """Return the same frame with all ended by a work tick; None when that can't be."""
        earlier = copy.copy(self)
        earlier.spans = dict(self.spans)
        return earlier if earlier.narrow(last_end) else None

    def part(self, spans: Mapping[str, Spans]) -> TimeWindows:
        """Return the frame with other spans, what is fixed in them taken from a plan that keeps every rule."""
        part = copy.copy(self)
        part.spans, part.is_part = dict(spans), True
        return part

    def of(self, network: Network) -> TimeWindows:
        """Return the same frame for what is left of its network without some activities."""
        fewer = copy.copy(self)
        fewer.network, fewer.spans = network, {a.id: self.spans[a.id] for a in network.activities}
        return fewer

    def _spread(self, touching: Mapping[str, list[Link]]) -> bool:
        # In a part of a plan, activities with one start left keep every rule among themselves: no need to look at them.
        waiting = {a: None for a in touching if not self.is_part or len(self.spans[a].starts) > 1}
        rounds = 0
        while waiting and rounds < 60 * len(touching):
            rounds += 1
            activity = next(iter(waiting))
            del waiting[activity]
            for link in touching[activity]:
                for changed in self._cut_by(link):
                    if not len(self.spans[changed].starts):
                        return False
                    waiting[changed] = None
        return True

    def _cut_by(self, link: Link) -> list[str]:
        before, after = self.spans[link.before], self.spans[link.after]
        bound_by = self.lag_map(link)
        source = before.starts if BEFORE_EDGE[link.type] == "start" else before.ends
        target = after.starts if AFTER_EDGE[link.type] == "start" else after.ends
        first, last = bound_by[source[0]], bound_by[source[-1]]
        if (first >= target[0] and last >= target[-1]) if link.at_most else (first <= target[0] and last <= target[-1]):
            return []
        if link.at_most:
            new_after = 0, int(np.searchsorted(target, bound_by[source[-1]], side="right"))
            new_before = int(np.searchsorted(source, np.searchsorted(bound_by, target[0]))), len(source)
        else:
            new_after = int(np.searchsorted(target, bound_by[source[0]])), len(target)
            new_before = 0, int(np.searchsorted(source, np.searchsorted(bound_by, target[-1], side="right")))
        changed = []
        for activity, spans, part in ((link.after, after, new_after), (link.before, before, new_before)):
            cut = spans.cut(*part)
            if len(cut.starts) < len(spans.starts):
                self.spans[activity] = cut
                changed.append(activity)
        return changed
