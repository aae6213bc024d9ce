"""Records of a network about trench that stands open: when it may not, and the ways that it crosses."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class KeptShut:
    """Times at which a stretch of trench may not stand open, such as weeks in which nobody could fill it.

    No window of the calendar `times` overlaps what lies between the start of `opens` and the finish of `closes`.
    Where `opens` has happened, so that the stretch stands open whatever is planned, the same is said from the start
    of `covers`, and nothing where that is '' or has happened too.
    """

    id: str
    kind: str
    """'closed weeks'; 'way' where it crosses one that others use; 'season' where no trench stands open on some days."""
    opens: str
    closes: str
    times: str
    covers: str = ""
    because: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class PricedNights:
    """Money for each night between the start of one activity and the finish of another."""

    opens: str
    closes: str
    price: float | None
    """None: the site file gives none."""
    id: str = ""
    what: str = ""
    """What stands there by the night."""
    rate_at: str = ""
    """The place of the price in the site file."""


@dataclass(frozen=True, slots=True)
class Way:
    """A way that others use, across a reach: what lies over its trench at night, and what each such night costs.

    The hours that plates take are no longer in the calendars of the work in its trench; it binds no date itself.
    """

    id: str
    what: str
    reach: str
    hours: str
    """The only hours, each working day, in which the trench may block it: `09:00-15:00`."""
    at_night: str
    """'plated', 'filled' or 'fenced'."""
    nights: tuple[PricedNights, ...] = ()
    """What plates or a fence cost."""
    plates: int = 0
    designed: bool = False
    """The trench is wider than plates may span without an engineer's design."""
