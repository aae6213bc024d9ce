"""Of what the events of the journal are made: ids, words, moments, and what a look or a piece of work was about."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

Ref = Annotated[str, Field(min_length=1, max_length=120)]
"""The id of something in the network or the site file."""
WORDS_AT_MOST = 2000
Words = Annotated[str, Field(max_length=WORDS_AT_MOST)]
Told = Annotated[str, Field(min_length=1, max_length=WORDS_AT_MOST)]
"""Words that must not be left out."""
Who = Annotated[str, Field(min_length=1, max_length=200)]
"""A person id of the site file, or a name."""
Digest = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
"""SHA-256 of content kept in the journal, or of a design."""
Feet = Annotated[float, Field(ge=0)]
Right = Literal["", "named", "deputy", "authority"]
"""Why somebody may look or release: named in the site file, deputy of the one named, or of the authority.
Empty: it was not known, or the entry is older than this field."""


class EventRecord(BaseModel):
    """Base of every event: immutable, unknown keys refused, numbers finite."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, use_attribute_docstrings=True)


class Fact(EventRecord):
    """Something that happened at a moment."""

    when: AwareDatetime
    late_because: Words = ""
    """Why it was written down only now; asked for when it is older than a few days."""
    despite: Words = ""
    """Why it is written down although it contradicts what is on record; empty: it does not, or nobody was asked."""
    contradicts: Words = ""
    """What it contradicted, as its writer was shown; filled in by the program where `despite` is said."""


class WorkPlace(EventRecord):
    """What work was about when it was reported, so that it is known again by its place. Filled in by the program."""

    kind: Ref
    what: Ref
    """The last part of the activity's id, such as 'lay-water'."""
    alignment: str = ""
    from_ft: Feet = 0.0
    to_ft: Feet = 0.0
    lines: tuple[str, ...] = ()


class WorkReport(Fact):
    """Something that was said of one activity."""

    activity: Ref
    work: WorkPlace | None = None


class Seen(EventRecord):
    """One line in one stretch that was looked at, with the design that was seen. Filled in by the program."""

    inspection: Ref
    """The inspection, or the kept-open stretch, that it was looked at for."""
    alignment: Ref
    from_ft: Feet
    to_ft: Feet
    line: str = ""
    """Empty: the trench itself."""
    layer: int | None = None
    design: Digest
    right: Right = ""
    """Why the person who looked, or released, could do so."""

    def holds(self, alignment: str, line: str, at_ft: float) -> bool:
        """Tell whether a station of a line lies in it."""
        return self.alignment == alignment and self.line == line and self.from_ft <= at_ft <= self.to_ft
