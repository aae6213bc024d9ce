"""Events of a working day: a test that failed, work not done, the trench inspected, a line struck, a note."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from scheduler.ledger.event_fields import Digest, Fact, Feet, Ref, Told, Who, Words, WorkReport
from scheduler.ledger.ground_events import OnStretch


class TestFailed(WorkReport):
    """A trade's own test failed; what it tests is not covered before the same test is reported finished later."""

    __test__ = False  # no test case, whatever its name says
    name: Literal["test_failed"] = "test_failed"
    faults: Told
    repair_hours: Annotated[float, Field(ge=0, le=10_000)] = 0.0
    """Working hours to mend it before it can be tested again."""


class NotDone(WorkReport):
    """Work that was planned was not done by `when`, and why."""

    name: Literal["not_done"] = "not_done"
    because: Told


class TrenchInspected(OnStretch):
    """The competent person inspected an open trench.

    It is due before each day's work, after rain, and whenever the trench may have become less safe (29 CFR
    1926.651(k)(1)); nobody stays in one that is found unsafe (1926.651(k)(2)).
    """

    name: Literal["trench_inspected"] = "trench_inspected"
    who: Ref
    safe: bool
    words: Words = ""
    """What was seen; must be said where it is not safe."""
    role: Words = ""
    """The role of the person on that day; filled in by the program."""

    @model_validator(mode="after")
    def _says_why(self) -> TrenchInspected:
        if not self.safe and not self.words.strip():
            raise ValueError("what makes it unsafe must be said")
        return self


class LineStruck(Fact):
    """A line in the ground was struck.

    All work along the alignment stops until whoever reported it, somebody of the same firm, or the owner of the line
    lifts that. Get people out first, then call the owner, the emergency number and the one-call centre (common
    practice).
    """

    name: Literal["line_struck"] = "line_struck"
    who: Who
    """Who reports it, and so stops the work."""
    firm: Words = ""
    """Their firm; filled in by the program."""
    alignment: Ref
    station_ft: Feet
    line: Ref | None = None
    """The line, by its id in the site file, where it is known."""
    owner: Words = ""
    """Whose line it is, where that is known."""
    what: Told
    told: Told
    """Who was called: the owner, the emergency number, the one-call centre."""

    @property
    def why(self) -> str:
        """Why work is stopped."""
        return f"a line was struck. {self.what}"

    @property
    def from_ft(self) -> float:
        """From where on work is stopped: all along the alignment."""
        return 0.0

    @property
    def to_ft(self) -> None:
        """To where: all along the alignment."""


class NoteKept(Fact):
    """Words or a photo, kept with an entry, with a stretch, or by themselves."""

    name: Literal["note_kept"] = "note_kept"
    words: Words = ""
    attachment: Digest | None = None
    entry: Annotated[int, Field(ge=1)] | None = None
    """Number of the entry that it belongs to."""
    alignment: Ref | None = None
    from_ft: Feet = 0.0
    to_ft: Feet | None = None

    @model_validator(mode="after")
    def _says_something(self) -> NoteKept:
        if not any(letter.isalnum() for letter in self.words) and self.attachment is None:
            raise ValueError("it holds neither words nor a photo")
        if self.to_ft is not None and self.to_ft <= self.from_ft:
            raise ValueError("the stretch must end after it begins")
        return self
