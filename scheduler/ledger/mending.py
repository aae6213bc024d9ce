"""When what failed was mended, by the record."""

from __future__ import annotations

from datetime import datetime

from scheduler.ledger.evidence import REPAIR, touches
from scheduler.ledger.ground_events import RepairReported
from scheduler.ledger.state import State
from scheduler.network.model import Activity


def mended_at(state: State, failed: Activity, since: datetime, by: datetime) -> datetime | None:
    """Return when a look or test that failed at a moment was mended, by another moment; None where no report says so.

    A report of mending counts by the work it is of, or by its place.
    """
    of = f"{REPAIR}{failed.id.removeprefix('look/')}/"
    found = [known.finish for id_, known in state.actuals.items() if id_.startswith(of) and known.finish is not None]
    for noted in state.counting:
        event = noted.entry.event
        if isinstance(event, RepairReported):
            here = not failed.alignment or touches(event, failed.alignment, failed.from_ft, failed.to_ft)
            found += [event.when] if here else []
    return max((t for t in found if since <= t <= by), default=None)
