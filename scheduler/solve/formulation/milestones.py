"""How activities without work (milestones) stand on the work-time axis, which has no closed hours.

A moment at the border of closed hours is one work tick with two clock times: as an end it is that
evening, as a start the next morning. Each milestone is read in one of the two ways:

* As an end, when it only waits for other activities and others wait for it: the evening is never too early for it.
* As a start, when it has a first date of its own or follows such a milestone: that date may fall in closed
  hours, and it then stands on the morning after. That is exact as long as something follows it.

With any other rule on a milestone (a lag, a latest date, a visit, a booking, a stretch that it opens) neither is
exact: it may have to stand inside closed hours, and then the axis must have every tick of the clock.
"""

from __future__ import annotations

from scheduler.network.dates import reached
from scheduler.network.lowering import lower
from scheduler.network.model import Network


class Milestones:
    """How the activities of no work in a network are read on its axis."""

    def __init__(self, network: Network) -> None:
        bare = {a.id for a in network.activities if a.work == 0}
        normal = lower(network)
        links = normal.links if bare else ()
        plain = {k for k in links if k.is_plain}
        self.at_starts: set[str] = set()
        """Those read as starts."""
        self.anywhere = False
        """Whether some may stand at any tick of the clock."""
        senses: dict[str, set[str]] = {}
        for bound in normal.firm if bare else ():
            # The target bounds everything alike: what is last of all reads the same either way.
            if bound.activity in bare and bound.family != "target":
                senses.setdefault(bound.activity, set()).add(bound.sense)
        after: dict[str, list[str]] = {}
        for link in plain:
            if link.after in bare:
                after.setdefault(link.before, []).append(link.after)
        dated = [a for a, found in senses.items() if "min" in found]
        self.at_starts = reached(dated, lambda a: after.get(a, ()))
        followed = {k.before for k in plain}
        begun = {o.opens for o in network.openings} | ({o.closes for o in network.openings} & self.at_starts)
        looks = {look for group in normal.look_groups for look in group.looks}
        booked = {b.activity for b in normal.bounds if b.price is not None}
        self.anywhere = (
            any(k.before in bare or k.after in bare for k in links if k not in plain)
            or any("fixed" in found or len(found) > 1 for found in senses.values())
            or bool((begun | looks | booked) & bare)
            or bool(self.at_starts - followed)
        )
