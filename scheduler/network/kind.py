"""The kinds of work, and what is true of all work of a kind."""

from __future__ import annotations

from enum import StrEnum


class Kind(StrEnum):
    """What an activity does, in the trade's words."""

    POTHOLE = "pothole"
    SURFACE_CUT = "surface cut"
    DIG = "dig"
    PROTECT = "protect"
    BED = "bed"
    LAY = "lay"
    SET = "set structure"
    JOIN = "join"
    PULL = "pull"
    PROVE = "prove"
    TEST = "test"
    INSPECT = "inspect"
    SHADE = "shade"
    RIBBON = "ribbon"
    FILL = "fill"
    COMPACTION_TEST = "compaction test"
    RESTORE = "restore surface"
    OUTSIDE = "outside work"
    CUTOVER = "cutover"
    REMOVE = "remove"
    SITE = "site work"
    CHECK = "check"
    MILESTONE = "milestone"
    PLAIN = "activity"

    @property
    def is_look(self) -> bool:
        """An inspector comes to look at something."""
        return self is Kind.INSPECT

    @property
    def is_outside_work(self) -> bool:
        """An outside party, such as the utility, does it at an appointment of its own."""
        return self in (Kind.OUTSIDE, Kind.CUTOVER, Kind.REMOVE)

    @property
    def by_others(self) -> bool:
        """Somebody from outside comes for it: to look, or to work."""
        return self.is_look or self.is_outside_work

    @property
    def is_test(self) -> bool:
        """It tests what was built; it may fail."""
        return self in (Kind.PROVE, Kind.TEST, Kind.COMPACTION_TEST)

    @property
    def only_if_reported(self) -> bool:
        """It counts as done only when somebody says so, never because later work has begun."""
        return self.by_others or self.is_test or self is Kind.CHECK

    @property
    def takes_time(self) -> bool:
        """It is work on site; a milestone only marks that other work is done."""
        return self is not Kind.MILESTONE

    @property
    def places(self) -> bool:
        """It puts a part of the installation, or the bed for it, into the trench or into a line."""
        return self in (Kind.BED, Kind.LAY, Kind.SET, Kind.JOIN, Kind.PULL)

    @property
    def fills(self) -> bool:
        """It fills the trench above the shading over the lines."""
        return self in (Kind.RIBBON, Kind.FILL)

    @property
    def buries(self) -> bool:
        """It puts soil over the lines, their shading or the fill above it: what a report of cover speaks of."""
        return self is Kind.SHADE or self.fills

    @property
    def covers(self) -> bool:
        """It hides what lies in the trench: it buries the lines or puts the surface back."""
        return self.buries or self is Kind.RESTORE

    @property
    def hides(self) -> bool:
        """It hides what somebody may have to see first: the open trench under a line, or the lines under soil."""
        return self.buries or self in (Kind.LAY, Kind.SET)

    @property
    def needs_open_trench(self) -> bool:
        """It can no longer be done, or be seen, once the trench is filled."""
        return self in (Kind.LAY, Kind.SET, Kind.JOIN, Kind.PROVE, Kind.TEST, Kind.CHECK)
