"""What somebody who comes from outside was told or asked, by telephone or in writing, and what they answered."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Annotated, Literal

from pydantic import AwareDatetime, Field, model_validator

from scheduler.ledger.event_fields import EventRecord, Fact, Ref, Words

Answer = Literal["agreed", "no_answer", "refused", "tentative"]
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
    uid: Annotated[str, Field(max_length=120)] = ""
    """Of the invitation that this answers; empty: it answers none."""
    answered_at: AwareDatetime | None = None
    """When the answer to an invitation was made, by the clock of whoever answered: an older one no longer counts."""

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


class AskedInWriting(Fact):
    """Somebody was asked in writing to come at a time, at another one, or not to come after all."""

    name: Literal["asked"] = "asked"
    of: Ref
    """The id of an inspection, outside work or trade."""
    person: Words = ""
    """Who was asked: a person id of the site file, or a name."""
    to: Annotated[str, Field(min_length=1, max_length=254)]
    """The mail address or telephone number."""
    means: Literal["mail", "text"] = "mail"
    uid: Ref
    """Of the appointment, the same however often it changes (RFC 5545 UID); nobody can guess it."""
    sequence: Annotated[int, Field(ge=0)] = 0
    """How often the appointment had changed by then (RFC 5546 section 2.1.4)."""
    told_start: AwareDatetime
    """When they are asked to come; of what is called off, when they were."""
    called_off: bool = False
    activities: Annotated[tuple[Ref, ...], Field(min_length=1)]
    """What they come for."""
    sent: bool = False
    """Whether the firm's mail server took it; else it was handed over as a file or draft for somebody to send."""
