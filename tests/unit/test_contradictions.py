"""What is about to be written and contradicts the record: said once, kept where its writer says why, and marked."""

# ruff: noqa: E501 - a case is a line

from __future__ import annotations

import pytest

from scheduler.ledger.contradictions import contradictions, shortened
from scheduler.ledger.state import fold
from tests.stories import ALMOST, Story, event_of, told

STORY = "8 06:00 finished dig; 8 08:00 finished bed"

# fmt: off
CASES = [
    ("", "8 12:00 finished L0/test-water", "Lay Water line, Main drive trench 0+84 to 1+60 is not on record as finished by then"),
    ("8 11:00 finished L0/lay-water", "8 12:00 finished L0/test-water", ""),
    ("8 12:30 finished L0/lay-water", "8 12:00 finished L0/test-water", "is not on record as finished by then"),
    ("", "8 12:00 test L0/test-water fails", "Lay Water line"),
    ("", "8 12:00 finished L0/lay-water", "is not on record as finished"),
    (STORY, "8 12:00 finished L0/lay-water", ""),
    (STORY, "8 12:00 begun L0/lay-water", ""),
    (f"{STORY}; 8 12:00 begun L0/lay-water", "8 11:00 finished L0/lay-water", "It is on record as begun Mon 8 Mar 12:00, after that"),
    (f"{STORY}; 8 12:00 begun L0/lay-water", "8 13:00 begun L0/lay-water", "It is on record as begun Mon 8 Mar 12:00"),
    (f"{STORY}; 8 12:00 finished L0/lay-water", "8 13:00 finished L0/lay-water", "It is on record as finished Mon 8 Mar 12:00"),
    (f"{STORY}; 8 12:00 finished L0/lay-water", "8 13:00 begun L0/lay-water", "begun again, it must be looked at again"),
    (f"{STORY}; 8 12:00 finished L0/lay-water", "8 13:00 L0/lay-water not done", "take that entry back"),
    (f"{STORY}; 8 12:00 finished L0/lay-water", "8 13:00 2 h left on L0/lay-water", "take that entry back"),
    ("8 12:00 finished L0/lay-water; 8 12:00 test L0/test-water fails", "8 13:00 passes water by c-dunn", "Pressure test of Water line, Main drive trench 0+84 to 1+60 failed Mon 8 Mar 12:00 and is not on record as passed since"),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water", "8 13:00 passes water by c-dunn", ""),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water", "8 15:00 finished L0/test-water", "It is on record as finished"),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water; 8 13:00 fails water by c-dunn", "8 15:00 finished L0/test-water", ""),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water; 8 13:00 fails water by c-dunn; 8 15:00 finished L0/test-water", "8 15:30 finished L0/test-water", "It is on record as finished"),
    *(
        (f"8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water; 8 13:00 fails water with 2 h to mend by c-dunn{mended}", step, words)
        for step in ("9 08:00 finished L0/test-water", "9 09:00 passes water by c-dunn")
        for mended, words in (("", "failed Mon 8 Mar 13:00 and is not on record as fixed by then"), ("; 9 07:30 finished the repair of water", ""), ("; 9 07:30 mended 90-100", ""), ("; 9 07:30 mended 10-20", "is not on record as fixed"))
    ),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water", "8 14:00 begun L0/shade", "was not released by then: not looked at yet"),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water; 8 13:00 passes water by c-dunn", "8 14:00 begun L0/shade", "was not released by then: passed, not released"),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water; 8 13:00 passes water by c-dunn; 8 13:05 releases water by c-dunn", "8 14:00 begun L0/shade", ""),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water; 8 13:00 passes water by c-dunn; 8 13:05 releases water by c-dunn; 8 13:30 stop everywhere by d-okoro", "8 14:00 begun L0/shade", "Work there was stopped Mon 8 Mar 13:30 by Daniel Okoro (Amsel Site Works), and that still stands: No shoring."),
    (f"{STORY}; 8 10:00 line struck at 10 by r-amsel", "8 12:00 begun L0/lay-water", "a line was struck. Nicked."),
    (f"{STORY}; 8 10:00 line struck at 10 by r-amsel; 8 10:30 stop lifted by r-amsel", "8 12:00 begun L0/lay-water", ""),
    (f"{STORY}; 8 10:00 stop 0-60 by d-okoro", "8 12:00 begun L0/lay-water", ""),
    (f"{STORY}; 8 10:00 stop everywhere by d-okoro", "8 12:00 mended 90-100", "Work there was stopped"),
    (f"{STORY}; 8 10:00 trench unsafe 90-100 by d-okoro", "8 12:00 begun L0/lay-water", "was found not safe Mon 8 Mar 10:00, and is not on record as safe since"),
    (f"{STORY}; 8 10:00 trench safe 84-160 by d-okoro", "8 12:00 begun L0/lay-water", ""),
    (f"{STORY}; 8 10:00 trench safe 84-100 by d-okoro", "8 12:00 begun L0/lay-water", "Not inspected by the competent person today"),
    (f"{STORY}; 7 10:00 trench safe 84-160 by d-okoro", "8 12:00 begun L0/lay-water", "Not inspected by the competent person today"),
    (f"{STORY}; 8 10:00 trench safe 84-160 by d-okoro; 8 10:30 rain until 8 11:00", "8 12:00 begun L0/lay-water", "Not inspected since the rain until Mon 8 Mar 11:00"),
    (ALMOST, "11 09:30 covered 84-160", "shading over Power service conduit, Main drive trench 0+84 to 1+60: not released yet"),
    ("TRUE", "11 09:30 covered 84-160", ""),
    ("TRUE", "11 09:30 begun lifts", "is not on record as finished by then"),
    ("TRUE", "11 09:30 begun L1/ribbon", ""),
]
# fmt: on


def found(before: str, step: str) -> tuple[str, ...]:
    story: Story = told(before)
    event, written = event_of(story, step)
    written = max([written, *(e.at for e in story.record.entries[-1:])])
    return contradictions(story.record.site, story.record.network, fold(story.record.entries, written), event)


@pytest.mark.parametrize(("before", "step", "words"), CASES, ids=[f"{n}: {c[1]}" for n, c in enumerate(CASES)])
def test_what_contradicts_the_record_is_said(before: str, step: str, words: str) -> None:
    said = " | ".join(found(before, step))
    assert words in said
    assert bool(words) == bool(said), said


def test_of_many_contradictions_five_are_said_and_the_others_counted() -> None:
    assert shortened(list("abcde")) == ("a", "b", "c", "d", "e")
    assert shortened(list("abcdefgh")) == ("a", "b", "c", "d", "e", "And 3 more.")
