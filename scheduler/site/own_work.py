"""Work that the user adds: steps of their own between the stages of the other work."""

from __future__ import annotations

from typing import Literal, get_args

from scheduler.site.fields import Id, Positive, Record, Text

Stage = Literal[
    "surface_cut",
    "expose",
    "dig",
    "protect",
    "bed",
    "lay",
    "test",
    "inspect",
    "shade",
    "fill",
    "compaction",
    "restore",
    "final",
]
STAGES: tuple[Stage, ...] = get_args(Stage)
"""The stages of the work in a stretch, in their order."""


class OwnWork(Record):
    """A step of your own: in stretches of trench, or once for the whole site, between two stages of the other work.

    Between laying and cover it is done once for each layer of lines, for the layers are laid and covered in turn.
    """

    id: Id
    name: Text
    reaches: list[Id] = []
    """Where it is done, once in each; empty: in every reach."""
    lines: list[Id] = []
    """Only where these lie; empty: whatever lies there."""
    once: bool = False
    """It is done once for all of those reaches together, beside the trench."""
    after: Stage | None = None
    """The stage that is finished first; where a reach has no such stage, the one before it. None: nothing."""
    before: Stage | None = None
    """The stage that waits for it; where a reach has no such stage, the one after it. None: nothing."""
    trade: Id | None = None
    """The trade that does it. None: the general trade, unless somebody from outside is named."""
    by: Text | None = None
    """Somebody from outside who does it, in place of a trade."""
    calendar: Id | None = None
    """Its hours, within those of whoever does it; needed with `by`. None: theirs alone."""
    hours: Positive | None = None
    """That it takes each time. None: by `feet_per_hour`."""
    feet_per_hour: Positive | None = None
    """Of trench done in an hour. None: by `hours`."""
    machine: Id | None = None
    """A machine that it needs."""
    in_trench: bool = True
    """Its people are in the trench: no other trade and no machine works there meanwhile."""
    gate: bool = False
    """What follows is held: it counts as done only when it is reported so, never because later work has begun.
    It needs `before`, the stage that waits."""
    released_by: Id | None = None
    """The person who releases what follows once it is done; it needs `before`, the stage that waits. None: nobody."""
    because: str = ""
    """Why it is done; told with every reason that comes of it."""
