"""From dates alone to a whole schedule: the visits and ticket renewals that the dates imply."""

from __future__ import annotations

from collections.abc import Mapping

from scheduler.measures import renewals_of
from scheduler.network.model import Network
from scheduler.schedule import Schedule, Span
from scheduler.shared_visits import visits_of


def dated(network: Network, dates: Mapping[str, Span]) -> Schedule:
    """Return a schedule of these dates, with one visit for each window looked in and the fewest renewals."""
    order = {a.id: dates[a.id] for a in network.activities}
    return Schedule(order, visits_of(network, order), renewals_of(network, order))
