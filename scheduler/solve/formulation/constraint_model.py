"""The model of a network: its variables, and the rules of every kind, in one list."""

from __future__ import annotations

from collections.abc import Mapping

from ortools.sat.python import cp_model

from scheduler.network.lowering import lower
from scheduler.schedule import Schedule
from scheduler.solve.formulation.dated import dated
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.rules.date_bounds import add_guarded_bounds, add_later_limits, add_priced_bounds
from scheduler.solve.formulation.rules.links import add_links
from scheduler.solve.formulation.rules.uses import add_uses
from scheduler.solve.formulation.rules.visit_caps import add_look_groups
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.formulation.variables import Search


def build(frame: TimeWindows, order: PrecedenceOrder, *, guarded: bool = False) -> Search:
    """Return a search with every rule of the frame's network in it, and no objective."""
    search = Search(frame, guarded)
    search.place_all()
    add_links(search)
    add_guarded_bounds(search)
    add_uses(search, order)
    add_later_limits(search)
    add_look_groups(search)
    add_priced_bounds(search)
    return search


def add_finish(search: Search, least: int, most: int) -> cp_model.IntVar:
    """Return the work tick by which everything has ended, between two bounds."""
    finish = search.model.new_int_var(least, most, "finish")
    followed = {k.before for k in lower(search.frame.network).links if search.frame.is_plain(k)}
    for activity in search.frame.network.activities:
        if activity.id not in followed:
            search.model.add(finish >= search.placed[activity.id].end)
    return finish


def schedule_of(frame: TimeWindows, starts: Mapping[str, int]) -> Schedule:
    """Return the schedule, in clock ticks, of starts in work ticks."""
    network, dates = frame.network, {}
    for activity in network.activities:
        spans = frame.all_spans(activity)
        at = int(spans.starts.searchsorted(starts[activity.id]))
        first = int(frame.edge_clock(activity.id, "start")[spans.starts[at]])
        dates[activity.id] = (first, int(frame.edge_clock(activity.id, "finish")[spans.ends[at]]))
    return dated(network, dates)


def starts_of(frame: TimeWindows, schedule: Schedule) -> dict[str, int]:
    """Return the starts, in work ticks, of a schedule in clock ticks."""
    axis = frame.axis
    return {
        a.id: axis.to_axis(schedule.dates[a.id][0]) if a.work else axis.last_end(schedule.dates[a.id][0])
        for a in frame.network.activities
    }
