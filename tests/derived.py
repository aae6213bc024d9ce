"""Networks derived from the small invented site, changed a little for one test at a time."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from functools import cache
from typing import Any

import networkx as nx
from ruamel.yaml import YAML

from scheduler.network.derive import derive
from scheduler.network.model import DateRule, Hold, Link, Network
from scheduler.network.order import order_of
from scheduler.site.site_record import Site
from tests.small_site import SMALL_SITE

Records = dict[str, Any]


def changed(change: Callable[[Records], object] | None = None) -> Site:
    """Return the small site after `change` has edited its records."""
    records: Records = YAML(typ="safe").load(SMALL_SITE)
    if change:
        change(records)
    return Site.model_validate(records)


@cache
def _unchanged() -> Network:
    return derive(changed())


def network(change: Callable[[Records], object] | None = None) -> Network:
    """Return the network of the small site after `change` has edited its records."""
    return derive(changed(change)) if change else _unchanged()


def closed_for_a_season(first: date, last: date) -> Callable[[Records], None]:
    """Return a change after which the small site's own crew does not work from one day to another, both included."""

    def change(records: Records) -> None:
        del records["site"]["target_finish"]
        records["site"]["horizon_days"] = 320
        records["calendars"][0]["closed"] = [first + timedelta(days=n) for n in range((last - first).days + 1)]
        records["locate_tickets"][0]["life_days"] = 300

    return change


def split_crew(records: Records) -> None:
    """Let the small site's own crew split into an operator and two pipe layers."""
    record(records, "trades", "gc").update(
        members=[{"skill": "operator"}, {"skill": "pipe_layer", "count": 2}],
        work_needs=[
            {"work": ["dig"], "members": [{"skill": "operator"}]},
            {"work": ["bed", "lay"], "members": [{"skill": "pipe_layer", "count": 2}]},
            {"work": ["shade"], "members": [{"skill": "pipe_layer"}]},
        ],
    )


def only_own_work(records: Records) -> None:
    """Take out what others set, and the machine's swing: then the small site's own crew decides the finish."""
    records["bookings"], records["inspections"], records["outside_work"], records["keep_open"] = [], [], [], []
    records["limits"] = {"swing_ft": 0}


def behind_the_dig(records: Records) -> None:
    """Let the small site's split crew bed 20 ft behind its dig, and take out what others set."""
    only_own_work(records)
    split_crew(records)
    records["limits"] = {"swing_ft": 20, "lay_behind_ft": 20}


def record(records: Records, part: str, id_: str) -> Records:
    """Return one record of a part by its id."""
    found: Records = next(r for r in records[part] if r["id"] == id_)
    return found


def waits(net: Network, after: str, before: str) -> bool:
    """Return whether one activity cannot start until another is done, by links and holds."""
    assert {before, after} <= net.by_id.keys(), f"{before} or {after} is not in {sorted(net.by_id)}"
    return nx.has_path(order_of(net.by_id, net.links, net.holds), before, after)


def link(net: Network, before: str, after: str, *, at_most: bool = False) -> Link:
    """Return the one link between two activities."""
    (found,) = [k for k in net.links if (k.before, k.after, k.at_most) == (before, after, at_most)]
    return found


def hold(net: Network, id_: str) -> Hold:
    """Return a hold by id."""
    return next(h for h in net.holds if h.id == id_)


def date_rules(net: Network, activity: str) -> list[DateRule]:
    """Return the date rules on one activity."""
    return [d for d in net.dates if d.activity == activity]
