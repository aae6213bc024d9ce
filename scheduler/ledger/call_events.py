"""Events of the telephone: what somebody who comes from outside was told, and what they answered."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Annotated, Literal

from pydantic import AwareDatetime, Field, model_validator

from scheduler.ledger.event_fields import EventRecord, Fact, Ref, Words

Answer = Literal["agreed", "no_answer", "refused"]
Means = Literal["phone", "text", "mail", "in_person", "letter"]


class ComingExpected(EventRecord):
    """A coming that somebody was to expect by the plan before, though no call about it is on record."""

    of: Ref
    """The id of an inspection, outside work or trade."""
    start: AwareDatetime
    activities: tuple[Ref, ...] = ()


class Called(Fact):
    """Somebody who comes from outside, or a trade, was called and told when to come, or that they need not."""

    name: Literal["called"] = "called"
    of: Ref
    """The id of an inspection, outside work or trade."""
    person: Words = ""
    """Who was spoken to: a person id of the site file, or a name."""
    means: Means = "phone"
    told_start: AwareDatetime | None = None
    """When they were asked to come; None: they were told that they are not needed any more."""
    was: AwareDatetime | None = None
    """The time that they knew before, which this replaces; None: there was none."""
    activities: Annotated[tuple[Ref, ...], Field(min_length=1)]
    """What they come for."""
    answer: Answer
    offers: AwareDatetime | None = None
    """After a no: from when on they can come."""
    words: Words = ""

    @model_validator(mode="after")
    def _makes_sense(self) -> Called:
        if self.offers is not None and self.answer != "refused":
            raise ValueError("another time is offered only by somebody who says no")
        if self.answer == "refused" and self.told_start is None:
            raise ValueError("a no needs the time that was asked for")
        return self

    @property
    def not_before(self) -> datetime | None:
        """After a no, the first moment that may suit them: what they offer, else the day after; None for other answers.

        The day ends at midnight by the offset from UTC in which the time was told.
        """
        if self.answer != "refused" or self.told_start is None:
            return None
        midnight = self.told_start.replace(hour=0, minute=0, second=0, microsecond=0)
        return self.offers or midnight + timedelta(days=1)
