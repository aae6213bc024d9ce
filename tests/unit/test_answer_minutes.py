"""May this be covered? Stories in which a minute, a foot, or what was covered meanwhile decides.

See `test_answer_table.py` for the others.
"""

# ruff: noqa: E501 - a case is a line, however long its story

from __future__ import annotations

import pytest

from scheduler.ledger.cover_answer import CoverVerdict
from tests.unit.test_answer_table import ASK, NO, YES, is_answered

# fmt: off
TO_THE_MINUTE = [
    ("TRUE; 11 09:00 fails shading by i-haas", NO, "failed Thu 11 Mar 09:00"),
    ("TRUE; 11 09:00 dug open 84-160", NO, "Shading over the service"),
    ("TRUE; 11 09:00 mended 120-125", NO, "fixed Thu 11 Mar 09:00"),
    ("CONDUITS; 10 09:30 finished L1/lay-service; 10 12:00 ask shading", YES, ""),
    ("CONDUITS; 10 09:31 finished L1/lay-service; 10 12:00 ask shading", NO, "finished Wed 10 Mar 09:31"),
    ("TRUE; 11 08:00 rain of 3 in until 11 09:00", YES, ""),
    ("TRUE; 11 08:00 rain of 3 in until 11 09:01", ASK, "it rained (3 in)"),
    ("TRUE; site: rain allowed 1 in; 11 09:20 rain of 1 in until 11 09:40", YES, ""),
    ("TRUE; 11 09:00 water stands 100-110", ASK, "water stood there"),
    ("TRUE; 11 08:59 water stands 100-110", YES, ""),
    ("TRUE; 11 09:20 fails shading with 4 h to mend by i-haas; 11 13:20 passes shading by i-haas; 11 13:21 releases shading by i-haas; 11 14:00 ask 84-160", YES, ""),
    ("TRUE; 11 09:20 fails shading with 4 h to mend by i-haas; 11 13:19 passes shading by i-haas; 11 13:21 releases shading by i-haas; 11 14:00 ask 84-160", ASK, "no repair is on record"),
]
ELSEWHERE = [
    ("TRUE; 11 09:30 stop 60-84 by i-haas", YES, ""),
    ("TRUE; 11 09:30 dug open 160-200", YES, ""),
    ("TRUE; 11 09:30 mended 160-200", YES, ""),
    ("TRUE; 11 09:30 mended 60-84", YES, ""),
    ("TRUE; 11 09:20 water stands 160-200", YES, ""),
    ("TRUE; 11 09:20 fails shading with 4 h to mend by i-haas; 11 09:25 mended 200-210; 11 09:30 passes shading by i-haas; 11 09:31 releases shading by i-haas", ASK, "no repair is on record"),
    ("TRUE; 11 09:10 mended 100-101; 11 09:20 fails shading with 4 h to mend by i-haas; 11 09:30 passes shading by i-haas; 11 09:31 releases shading by i-haas", NO, "no repair is on record"),
]
COVERED_IN_TIME = [
    ("CONDUITS; 20 09:00 shaded 84-160; 24 10:31 ask shading", YES, ""),
    ("CONDUITS; 24 10:30 shaded 84-160; 24 10:31 ask shading", YES, ""),
    ("CONDUITS; 24 10:31 shaded 84-160; 24 10:32 ask shading", NO, "its release was good until Wed 24 Mar 10:30"),
    ("CONDUITS; 20 09:00 shaded 160-200; 24 10:31 ask shading", NO, "its release was good until"),
    ("CONDUITS; 20 09:00 shaded 84-120; 24 10:31 ask shading", NO, "its release was good until"),
    ("CONDUITS; 20 09:00 shaded 84-120; 24 10:31 ask shading 84-120", YES, ""),
    ("CONDUITS; 20 09:00 shaded 84-120; 24 10:31 ask shading 120-160", NO, "its release was good until"),
    ("CONDUITS; 20 09:00 begun L1/shade; 24 10:31 ask shading", YES, ""),
    ("CONDUITS; 20 09:00 2 h left on L1/shade; 24 10:31 ask shading", NO, "its release was good until"),
    ("CONDUITS; 20 09:00 shaded 84-160; 21 09:00 dug open to the shading 84-160; 24 10:31 ask shading", YES, ""),
    ("CONDUITS; 20 09:00 shaded 84-160; 21 09:00 dug open 84-160; 24 10:31 ask shading", NO, "dug open again Sun 21 Mar 09:00"),
    ("CONDUITS; 10 12:00 shaded 84-160; 10 13:00 rain of 3 in until 10 14:00; 10 15:00 ask shading", YES, ""),
    ("CONDUITS; 10 12:00 shaded 160-200; 10 13:00 rain of 3 in until 10 14:00; 10 15:00 ask shading", ASK, "it rained (3 in)"),
    ("CONDUITS; 10 12:00 shaded 84-120; 10 13:00 rain of 3 in until 10 14:00; 10 15:00 ask shading", ASK, "it rained (3 in)"),
    ("CONDUITS; 10 12:00 finished L1/shade; 10 13:00 rain of 3 in until 10 14:00; 10 15:00 ask shading", YES, ""),
    ("CONDUITS; 10 12:00 begun L1/shade; 10 13:00 rain of 3 in until 10 14:00; 10 15:00 ask shading", ASK, "it rained (3 in)"),
    ("CONDUITS; 10 12:00 shaded 84-160; 10 13:00 water stands 100-110; 10 15:00 ask shading", YES, ""),
]
AGAIN = (
    "CONDUITS; 10 12:00 shaded 84-160; 10 13:00 dug open 84-160; 10 13:30 passes conduit by c-dunn; "
    "10 13:31 releases conduit by c-dunn; 10 13:32 passes water by c-dunn; 10 13:33 releases water by c-dunn"
)
"""Shaded, dug open again, and all looked at and released once more: what was covered before is not covered now."""
DUG_OPEN_AND_LOOKED_AT_AGAIN = [
    (f"{AGAIN}; 10 16:00 ask shading", YES, ""),
    (f"{AGAIN}; 10 14:00 rain of 3 in until 10 15:00; 10 16:00 ask shading", ASK, "it rained (3 in)"),
    (f"{AGAIN}; 10 13:40 shaded 84-160; 10 14:00 rain of 3 in until 10 15:00; 10 16:00 ask shading", YES, ""),
    (f"{AGAIN}; 24 14:29 ask shading", YES, ""),
    (f"{AGAIN}; 24 14:31 ask shading", NO, "its release was good until"),
    (f"{AGAIN}; 24 14:00 shaded 84-160; 24 14:31 ask shading", YES, ""),
]
SAID_TO_BE_WRONG = [
    ("TRUE; 11 09:30 takes back the last hold_released [by some labourer, unchecked]", ASK, "the release (entry 19) is said to be wrong by entry 20"),
    ("TRUE; 11 09:30 takes back the last hold_released [by some labourer, unchecked]; 11 09:40 releases shading by i-haas", YES, ""),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water; 8 13:05 releases water by c-dunn; 8 13:20 releases water by c-dunn; 8 13:30 takes back the last hold_released [by some labourer, unchecked]; 8 14:00 ask shading layer 0", ASK, "released Mon 8 Mar 13:05, but no look"),
]
# fmt: on
CASES = [*TO_THE_MINUTE, *ELSEWHERE, *COVERED_IN_TIME, *DUG_OPEN_AND_LOOKED_AT_AGAIN, *SAID_TO_BE_WRONG]


@pytest.mark.parametrize(("story", "verdict", "words"), CASES, ids=[f"{n}: {c[0][:80]}" for n, c in enumerate(CASES)])
def test_may_it_be_covered_then_and_there(story: str, verdict: CoverVerdict, words: str) -> None:
    is_answered(story, verdict, words)
