"""The people of a crew: how fast they lay, who can do what, and which of them each kind of work takes."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from scheduler.site.fields import Id, Positive, Record
from scheduler.site.ground import LineKind
from scheduler.site.work_kinds import WorkKind


class LayRate(Record):
    """Feet one crew lays in an hour, for one kind of line."""

    kind: LineKind
    feet_per_hour: Positive
    """Of one conduit or pipe, by one crew."""


class CrewMember(Record):
    """People who can do the same, such as an operator or two pipe layers: of one crew, or those that work takes."""

    skill: Id
    """Such as operator, pipe_layer or flagger."""
    count: Annotated[int, Field(ge=1, le=20)] = 1
    """Of them."""


class WorkNeeds(Record):
    """The members of a crew that some kinds of work take, from their start to their end."""

    work: Annotated[list[WorkKind], Field(min_length=1)]
    """Kinds of work, as plans name them."""
    members: Annotated[list[CrewMember], Field(min_length=1)]
    """So many of each skill, of those that the crew has."""
