"""What stands beside the trench or hangs over it: buildings, meters, lot lines, wells, trees, poles, wires."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from scheduler.site.fields import Id, NonNegative, Positive, Record, Station, Text

SurroundingKind = Literal["building", "meter", "lot_line", "septic", "well", "tree", "pole", "trench", "overhead_line"]
"""A meter is meant with its working space, a septic field with its tank, a trench is one that others have open."""


class Surrounding(Record):
    """Something outside the trench that lines, the trench or its machines keep clear of."""

    id: Id
    what: SurroundingKind
    name: Text | None = None
    """What people call it; None: by what it is."""
    alignment: Id
    """The one beside or over which it is compared; written once more for each other one it is near."""
    from_: Station = Field(alias="from")
    """Where along the alignment it stands, or begins."""
    to: Station | None = None
    """Where it ends; None: it stands at one station."""
    side: Literal["left", "right"] = "right"
    """Of the trench, seen along rising stations."""
    distance_ft: NonNegative
    """From the centreline of the trench to its nearest face; of a wire, measured on the ground below it."""
    footing_in: Positive | None = None
    """A building: the base of its footing below grade."""
    height_ft: Positive | None = None
    """An overhead line: its lowest wire above grade."""
    voltage_v: NonNegative | None = None
    """An overhead line: between phases; None: at most 50,000 V."""
    settled: Text | None = None
    """A building or an overhead line: who settled how the work goes on beside it, such as the engineer who designed the
    support of a footing, or the owner who has the wires dead and grounded; no depth or height is then judged."""

    @property
    def said(self) -> str:
        """What people call it."""
        return self.name or f"the {self.what.replace('_', ' ')}"

    @property
    def span(self) -> tuple[float, float]:
        """Its stations [ft], equal where it stands at one."""
        return self.from_, self.from_ if self.to is None else self.to
