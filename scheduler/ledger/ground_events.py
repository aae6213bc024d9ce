"""Events of a stretch of ground: covered, dug open, mended, wet, stopped, measured."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AwareDatetime, Field, model_validator

from scheduler.ledger.event_fields import EventRecord, Fact, Feet, Ref, Told, Who, Words


class OnStretch(Fact):
    """Something that happened in a stretch of ground."""

    alignment: Ref
    from_ft: Feet
    to_ft: Feet

    @model_validator(mode="after")
    def _has_length(self) -> OnStretch:
        if self.to_ft <= self.from_ft:
            raise ValueError("the stretch must end after it begins")
        return self


class _Moved(OnStretch):
    depth: Literal["shading", "fill"] = "fill"
    """'shading': select fill over the lines only; 'fill': everything above as well."""
    layer: int | None = None
    """Only this layer and those below it; None: every layer."""


class CoverReported(_Moved):
    """A stretch was covered."""

    name: Literal["cover_reported"] = "cover_reported"


class UncoverReported(_Moved):
    """A covered stretch was dug open again."""

    name: Literal["uncover_reported"] = "uncover_reported"
    depth: Literal["shading", "fill"] = "shading"
    """'shading': down to the lines; 'fill': down to the select fill over them."""


class RepairReported(OnStretch):
    """Something in a stretch was mended; what was looked at before must be looked at again."""

    name: Literal["repair_reported"] = "repair_reported"
    what: Told


class WaterStood(OnStretch):
    """Water stood in the trench."""

    name: Literal["water_stood"] = "water_stood"


class StopWork(Fact):
    """Somebody ordered work to stop: in a stretch, or everywhere."""

    name: Literal["stop_work"] = "stop_work"
    who: Who
    firm: Words = ""
    why: Told
    alignment: Ref | None = None
    """None: everywhere."""
    from_ft: Feet = 0.0
    to_ft: Feet | None = None
    """None: to the end of the alignment."""

    @model_validator(mode="after")
    def _has_length(self) -> StopWork:
        if self.to_ft is not None and self.to_ft <= self.from_ft:
            raise ValueError("the stretch must end after it begins")
        return self


class StopWorkLifted(Fact):
    """A stop-work order no longer holds, by word of whoever gave it, or of the same firm."""

    name: Literal["stop_work_lifted"] = "stop_work_lifted"
    stop: Annotated[int, Field(ge=1)]
    """Number of the entry of the order."""
    who: Who
    firm: Words = ""


class Rained(EventRecord):
    """It rained into the trench."""

    name: Literal["rained"] = "rained"
    start: AwareDatetime
    until: AwareDatetime
    inches: Annotated[float, Field(ge=0, le=100)] | None = None
    late_because: Words = ""

    @model_validator(mode="after")
    def _in_order(self) -> Rained:
        if self.until <= self.start:
            raise ValueError("rain ends after it starts")
        return self


class Measured(Fact):
    """A line was measured as built before it was covered."""

    name: Literal["measured"] = "measured"
    alignment: Ref
    station_ft: Feet
    line: Ref | None = None
    offset_in: float
    """From the trench centreline, right of rising stations positive."""
    cover_in: Feet
    """Soil that will lie over its top."""
    who: Who
