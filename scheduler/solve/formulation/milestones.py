"""Work of no ticks on the work-time axis: which of its moments can be told by work ticks at all.

What only waits for others, and is only waited for, may be read as an end: it never needs to
stand in closed time. With a first date of its own it is read as a start, for it may then have
to wait for a morning; that is exact as long as something else follows it. Anything else may
stand at any tick of the clock, and then the axis must hold them all.
"""

from __future__ import annotations

from scheduler.network.lowering import lower
from scheduler.network.model import Link, Network


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
        self.at_starts = _with_followers({a for a, found in senses.items() if "min" in found}, plain, bare)
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


def _with_followers(found: set[str], links: set[Link], bare: set[str]) -> set[str]:
    grew = True
    while grew:
        more = {k.after for k in links if k.before in found and k.after in bare} - found
        found = found | more
        grew = bool(more)
    return found
