"""What an entry of a rule sheet applies to: conditions on the line, the place and the part of the run."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from scheduler.site.fields import Expected, Positive, Record, Text
from scheduler.site.filling import Zone
from scheduler.site.ground import Line, LineKind, Material, Place, Reach, Shell, Soil, Surface
from scheduler.trench.along import ends_on, near_any
from scheduler.units import parse_amount

Use = Literal["service", "feeder", "branch", "lighting", "main", "lateral", "spare"]
Part = Literal["ends", "middle", "crossing"]
PART_FT = 5.0
"""How far from an end, or from a crossing, counts as there when an entry does not say."""
_RANGES = (("size_from", "size_to"), ("amperes_from", "amperes_to"), ("volts_from", "volts_to"))
_LISTS = ("kinds", "uses", "owners", "materials", "places", "surfaces", "soils", "encased", "zones")
_OF_LINE = (
    "kinds", "uses", "owners", "materials", "encased", "size_from", "size_to", "amperes_from", "amperes_to",
    "volts_from", "volts_to", "part",
)  # fmt: skip


def _amount(unit: str) -> tuple[Any, ...]:
    """Return what makes a field an amount in a unit that may be written in another one."""

    def read(value: Any) -> Any:
        return parse_amount(value, unit) if isinstance(value, str) else value

    words = Expected(f"a positive number of {unit}, or an amount with its unit such as 50 mm")
    schema = WithJsonSchema({"anyOf": [{"type": "number", "exclusiveMinimum": 0}, {"type": "string"}]})
    return BeforeValidator(read), words, schema


Inches = Annotated[Positive, *_amount("in")]
Feet = Annotated[Positive, *_amount("ft")]


class Conditions(Record):
    """What lines and places something applies to; a condition left out holds everywhere."""

    kinds: list[LineKind] = []
    """Line kinds it applies to; empty: all. The other lists likewise."""
    uses: list[Use] = []
    """What lines it applies to, by their use."""
    owners: list[Text] = []
    """What lines it applies to, by their owner."""
    materials: list[Material] = []
    """What lines it applies to, by their material."""
    size_from: Inches | None = None
    """The least nominal size of line it applies to [in]."""
    size_to: Inches | None = None
    """The greatest nominal size of line it applies to [in]."""
    amperes_from: Positive | None = None
    """The least rating of a service or feeder it applies to [A]."""
    amperes_to: Positive | None = None
    """The greatest rating of a service or feeder it applies to [A]."""
    volts_from: Positive | None = None
    """The least voltage between phases it applies to [V]."""
    volts_to: Positive | None = None
    """The greatest voltage between phases it applies to [V]."""
    encased: list[Shell] = []
    """Only where the line is in such a shell; `none` is bare in the ground."""
    places: list[Place] = []
    """What reaches it applies to, by their place."""
    surfaces: list[Surface] = []
    """What reaches it applies to, by their surface."""
    soils: list[Soil] = []
    """What reaches it applies to, by their soil."""
    part: Part | None = None
    """The part of a line's run: its ends, where others cross or branch off, or its middle, away from both."""
    part_ft: Feet = PART_FT
    """How far from the end or the crossing counts as there [ft]."""
    zones: list[Zone] = []
    """For rules of the fill: the bedding, the pipe zone up to the top of the shading, or above it."""

    def fits(
        self,
        line: Line | None,
        reach: Reach | None,
        *,
        at: float | None = None,
        zone: str = "",
        crossings: Mapping[str, Sequence[float]] | None = None,
    ) -> bool:
        """Tell whether all conditions hold for a line in a reach, at a station [ft] and in a zone of the fill.

        A condition on what is not given, such as a part of the run without a station, does not hold.
        """
        if not self._fits_place(reach) or (self.zones and zone not in self.zones):
            return False
        if not any(_given(self, field) for field in _OF_LINE):
            return True
        return line is not None and self.fits_line(line) and self._fits_part(line, reach, at, crossings or {})

    def _fits_place(self, reach: Reach | None) -> bool:
        if reach is None:
            return not (self.places or self.surfaces or self.soils)
        return (
            (not self.places or reach.place in self.places)
            and (not self.surfaces or reach.surface in self.surfaces)
            and (not self.soils or reach.soil in self.soils)
        )

    def fits_line(self, line: Line, *, ratings: bool = True) -> bool:
        """Tell whether the conditions on the line itself hold; without amperes and volts where `ratings` is false."""
        return (
            (not self.kinds or line.kind in self.kinds)
            and (not self.uses or line.use in self.uses)
            and (not self.owners or line.owner in self.owners)
            and (not self.materials or line.material in self.materials)
            and _between(line.size_in, self.size_from, self.size_to)
            and (not ratings or _between(line.amperes, self.amperes_from, self.amperes_to))
            and (not ratings or _between(line.voltage_v, self.volts_from, self.volts_to))
        )

    def unrated(self, line: Line) -> str:
        """Return the rating that it goes by and the line does not give, as a field of the line; '' for none."""
        if line.amperes is None and (self.amperes_from is not None or self.amperes_to is not None):
            return "amperes"
        return "voltage_v" if line.voltage_v is None and (self.volts_from or self.volts_to) else ""

    def _fits_part(
        self, line: Line, reach: Reach | None, at: float | None, crossings: Mapping[str, Sequence[float]]
    ) -> bool:
        if not self.along:
            return True
        if reach is None or at is None:
            return False
        if self.encased and line.shell_at(reach.alignment, at) not in self.encased:
            return False
        end = near_any(at, ends_on(line, reach.alignment), self.part_ft)
        crossing = near_any(at, crossings.get(reach.alignment, ()), self.part_ft)
        return {None: True, "ends": end, "crossing": crossing, "middle": not (end or crossing)}[self.part]

    @property
    def along(self) -> bool:
        """Whether it speaks of a part of a run, so that it can change within a reach."""
        return self.part is not None or bool(self.encased)

    def within(self, other: Conditions, *, known: Sequence[LineKind] = ()) -> bool:
        """Tell whether wherever this holds the other one holds too; `known` are the kinds that a rule is for."""
        for field in _LISTS:
            mine, theirs = set(getattr(self, field)), set(getattr(other, field))
            if field == "kinds":
                mine, theirs = mine or set(known), theirs or set(known)
            if theirs and not (mine and mine <= theirs):
                return False
        for low, high in _RANGES:
            at_least, at_most = getattr(other, low), getattr(other, high)
            if at_least is not None and (getattr(self, low) or 0.0) < at_least:
                return False
            if at_most is not None and (getattr(self, high) or float("inf")) > at_most:
                return False
        return other.part is None or self._part_within(other)

    def apart_from(self, other: Conditions) -> bool:
        """Tell whether nothing can meet the conditions of both: two lists that share no word, or ranges that part."""
        for field in _LISTS:
            mine, theirs = set(getattr(self, field)), set(getattr(other, field))
            if mine and theirs and not mine & theirs:
                return True
        for low, high in _RANGES:
            for one, two in ((self, other), (other, self)):
                least, most = getattr(one, low), getattr(two, high)
                if least is not None and most is not None and least > most:
                    return True
        return False

    def _part_within(self, other: Conditions) -> bool:
        if self.part != other.part:
            return False
        wider = self.part_ft >= other.part_ft if self.part == "middle" else self.part_ft <= other.part_ft
        return wider

    def impossible(self) -> Iterator[str]:
        """Yield the conditions that nothing can meet, in words."""
        for names in _RANGES:
            low, high = (getattr(self, name) for name in names)
            if low is not None and high is not None and low > high:
                yield f"{names[0].partition('_')[0]} from {low:g} to {high:g}"


def _given(conditions: Conditions, field: str) -> bool:
    return getattr(conditions, field) not in (None, [])


def _between(value: float | None, low: float | None, high: float | None) -> bool:
    if value is None:
        return low is None and high is None
    return (low is None or value >= low - 1e-6) and (high is None or value <= high + 1e-6)


def excepted(value: Any) -> Any:
    """Take one set of conditions, or a list of them."""
    return [value] if isinstance(value, dict) else value


Exceptions = Annotated[list[Conditions], BeforeValidator(excepted), Field(max_length=10)]
