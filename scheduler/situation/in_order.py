"""What the plan in force still gives when its order of work is kept and the record is taken for true."""

from __future__ import annotations

from scheduler.explain.sequence import sequence_of
from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.schedule import Schedule, Span


def pushed_in_order(planned: Network, schedule: Schedule, stood: Network) -> dict[str, Span] | None:
    """Return the earliest dates [ticks] of a job as it stands, nobody earlier than planned, who follows whom kept.

    `planned` is the network that the schedule was made for, `stood` the job as it stands now. New work, such as
    mending, waits for nobody's crew here, so the dates are a bound: planning anew may lead to later ones only where
    that work has to wait. None when the work no longer fits into the hours known.
    """
    known = stood.by_id
    arcs = [
        a.link
        for a in sequence_of(planned, schedule).arcs
        if a.link.after in known
        and a.link.before in known
        and not known[a.link.after].happened
        and not known[a.link.before].happened
    ]
    begun = {a.begun_part_of for a in stood.activities if a.begun_part_of}
    kept = tuple(k for k in arcs if k.after not in begun)
    starts = {
        a: start for a, (start, _) in schedule.dates.items() if a in known and not known[a].happened and a not in begun
    }
    return Propagation(stood, kept, bounds=lower(stood).floors).forward(starts)
