"""May this be covered? One line a case: the story, the answer, and words that stand in its reasons.

`TRUE` is a story in which all was done as it should be; see `tests/stories.py` for how a story is told.
"""

# ruff: noqa: E501 - a case is a line, however long its story

from __future__ import annotations

import pytest

from scheduler.errors import BadInput
from scheduler.ledger.cover_answer import CoverVerdict
from tests.stories import TRUE, told

YES, NO, ASK = CoverVerdict.YES, CoverVerdict.NO, CoverVerdict.ASK_AGAIN

# fmt: off
THE_TRUE_STORY = [
    ("TRUE", YES, ""),
    ("TRUE; 20 10:00 ask 84-160", YES, ""),
    ("TRUE; 11 10:00 ask 84-100", YES, ""),
    ("TRUE; 10 10:00 ask shading", YES, ""),
    ("TRUE; 11 08:00 ask 84-160", NO, "shading over Power service conduit, Main drive trench 0+84 to 1+60: not released yet"),
    ("TRUE; 11 09:10 ask 84-160", NO, "passed Thu 11 Mar 09:00, but not released yet"),
    ("TRUE; 8 13:00 ask shading layer 0", NO, "passed Mon 8 Mar 13:00, but not released yet"),
    ("TRUE; 8 13:05 ask shading layer 0", YES, ""),
    ("TRUE; 11 10:00 ask 84-170", NO, "Conduits before cover: Gate"),
    ("TRUE; 11 09:20 passes shading by j-pace", YES, ""),
    ("ALMOST; 11 08:30 releases shading by i-haas; 11 09:00 passes shading by i-haas", NO, "passed Thu 11 Mar 09:00, but not released yet"),
    ("ALMOST; 11 08:50 passes shading by j-pace; 11 09:00 passes shading by i-haas; 11 09:15 releases shading by i-haas; 11 09:30 takes back the last inspection_passed", NO, "passed Thu 11 Mar 08:50, but not released yet"),
    ("CONDUITS; 24 10:30 ask shading", YES, ""),
    ("CONDUITS; 24 10:31 ask shading", NO, "its release was good until Wed 24 Mar 10:30"),
    ("TRUE; 11 09:20 passes shading on condition by j-pace", NO, "on condition: Tape it"),
]
DUG_OPEN_OR_MENDED = [
    ("TRUE; 11 09:30 dug open 84-160", NO, "dug open again Thu 11 Mar 09:30, after it was looked at"),
    ("TRUE; 11 09:30 dug open 100-104", NO, "dug open again"),
    ("TRUE; 11 09:30 dug open 100-104; 11 10:00 ask 84-99", YES, ""),
    ("TRUE; 11 09:30 dug open to the shading 100-104", NO, "Shading over the service"),
    ("TRUE; 10 11:00 dug open to the shading 100-104; 10 12:00 ask shading", YES, ""),
    ("TRUE; 11 09:30 dug open 60-80", YES, ""),
    ("TRUE; 11 09:30 dug open 84-160; 11 09:40 releases conduit by c-dunn", NO, "dug open again"),
    ("TRUE; 11 09:30 mended 120-125", NO, "fixed Thu 11 Mar 09:30"),
    ("TRUE; 11 09:30 finished the repair of conduit", NO, "fixed Thu 11 Mar 09:30"),
]
FAILED = [
    ("TRUE; 11 09:30 fails conduit by c-dunn", NO, "failed Thu 11 Mar 09:30"),
    ("TRUE; 11 09:30 fails conduit by c-dunn; 11 09:40 releases conduit by c-dunn", NO, "failed Thu 11 Mar 09:30"),
    ("TRUE; 11 09:15 fails shading by i-haas", NO, "failed Thu 11 Mar 09:15"),
    ("TRUE; 11 09:30 dug open 84-160; 11 09:35 fails conduit with 4 h to mend by c-dunn; 11 09:36 releases conduit by c-dunn", NO, "failed Thu 11 Mar 09:35"),
    ("TRUE; 11 09:20 fails shading with 4 h to mend by i-haas; 11 09:21 passes shading by i-haas; 11 09:22 releases shading by i-haas", ASK, "4 working hours to fix, passed Thu 11 Mar 09:21, and no repair is on record"),
    ("TRUE; 11 09:20 fails shading with 4 h to mend by i-haas; 11 09:25 mended 100-101; 11 09:26 finished L0/test-water; 11 09:26 checked the joint at 84; 11 09:30 passes shading by i-haas; 11 09:31 releases shading by i-haas; 11 09:32 passes conduit by c-dunn; 11 09:33 releases conduit by c-dunn; 11 09:34 passes water by c-dunn; 11 09:35 releases water by c-dunn", YES, ""),
    ("TRUE; 11 09:20 fails shading with 4 h to mend by i-haas; 11 09:22 begun the repair of shading; 11 09:24 passes shading by i-haas; 11 09:25 releases shading by i-haas", NO, "no repair is on record"),
    ("TRUE; 11 09:20 fails shading with 4 h to mend by i-haas; 11 09:25 mended 100-101; 11 09:30 passes shading by i-haas; 11 09:31 releases shading by i-haas; 11 09:32 passes conduit by c-dunn; 11 09:33 releases conduit by c-dunn; 11 09:34 passes water by c-dunn; 11 09:35 releases water by c-dunn", NO, "Pressure test of Water line, Main drive trench 0+84 to 1+60: made before what was fixed Thu 11 Mar 09:25; it is made again."),
    ("TRUE; 11 09:20 fails shading by i-haas; 11 09:40 passes shading by i-haas", NO, "not released yet"),
    ("TRUE; 11 09:20 fails shading by i-haas; 11 09:40 passes shading by i-haas; 11 09:45 releases shading by i-haas", YES, ""),
]
PHOTOGRAPHS = [
    ("site: photographs asked for; CONDUITS; 10 12:00 ask shading", NO, "Photograph and measure"),
    ("site: photographs asked for; CONDUITS; 8 12:30 finished L0/record; 10 11:00 finished L1/record; 10 12:00 ask shading", YES, ""),
    ("site: photographs asked for; TRUE; 11 10:00 ask 84-160", NO, "Photograph and measure"),
]
NOBODY_LOOKED = [
    ("8 07:00 releases water by c-dunn; 8 07:00 releases conduit by c-dunn; 8 07:00 releases shading by i-haas", NO, "not reported as finished"),
    ("1 07:00 releases water by c-dunn [unchecked]; 1 07:00 releases conduit by c-dunn [unchecked]", NO, "not reported as finished"),
    ("TRUE; site: nobody to release", YES, ""),
    ("site: nobody to release; ALMOST", NO, "nobody: name somebody of Sorrel County Building Department"),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water; 8 13:05 releases water by c-dunn; 8 14:00 ask shading layer 0", ASK, "no look that passed is on record"),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water; 8 13:00 passes water by c-dunn [unchecked]; 8 13:05 releases water by c-dunn [unchecked]; 8 14:00 ask shading layer 0", ASK, "what was seen is not on record"),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water; 8 13:00 passes water by t-bell [unchecked]; 8 13:05 releases water by c-dunn [unchecked]; 8 14:00 ask shading layer 0", NO, "not on record as one of Sorrel County Trades"),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water; 8 13:00 passes water by c-dunn [unchecked]; 8 13:05 releases water by c-dunn [unchecked]; 8 13:30 word that water stands by c-dunn; 8 14:00 ask shading layer 0", YES, ""),
]
NO_TELEPHONE = TRUE.replace("9 15:00 finished L1/lay-telephone; ", "{}; ")
"""The true story, with something else said of the conduits that nobody looks at."""
WORK = [
    (NO_TELEPHONE.format(""), NO, "Lay Communications conduits, Main drive trench 0+84 to 1+60: not reported as finished."),
    (NO_TELEPHONE.format("9 15:00 begun L1/lay-telephone"), NO, "begun Tue 9 Mar 15:00 and not reported as finished."),
    (NO_TELEPHONE.format("9 15:00 3 h left on L1/lay-telephone"), NO, "begun Tue 9 Mar 15:00 and not reported as finished."),
    (NO_TELEPHONE.format("9 15:00 begun L1/lay-telephone; 9 16:00 finished L1/lay-telephone"), YES, ""),
    (NO_TELEPHONE.format("9 15:00 finished L1/lay-telephone; 9 16:00 begun L1/lay-telephone"), NO, "begun Tue 9 Mar 16:00 and not reported as finished."),
    (NO_TELEPHONE.format("9 15:00 finished L1/lay-telephone; 9 16:00 takes back the last finished"), NO, "not reported as finished."),
    (NO_TELEPHONE.format("9 15:00 finished L1/lay-telephone; 9 16:00 takes back the last finished [by some labourer, unchecked]"), NO, "not reported as finished."),
    (NO_TELEPHONE.format("9 15:00 finished L1/lay-telephone [written 12 09:00, unchecked]") + "; 11 10:00 ask 84-160", NO, "not reported as finished."),
    (NO_TELEPHONE.format("12 15:00 finished L1/lay-telephone [written 9 15:00, unchecked]"), NO, "not reported as finished."),
    ("8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water; 8 12:30 takes back the last finished [by some labourer, unchecked]; 8 14:00 ask shading layer 0", NO, "Pressure test of Water line"),
    ("9 15:00 finished set-pull-box; site: box on two lines", NO, "Set Pull box at the orchard corner"),
    ("TRUE; site: box on two lines", ASK, "otherwise than it was seen"),
    ("TRUE; 10 09:30 begun L1/lay-telephone; 11 09:30 6 h left on L1/lay-telephone", NO, "Lay Communications conduits"),
    ("TRUE; 11 09:30 6 h left on L1/lay-telephone; 11 09:40 finished L1/lay-telephone", NO, "finished Thu 11 Mar 09:40"),
    ("TRUE; 11 09:30 begun L1/lay-service", NO, "begun again Thu 11 Mar 09:30"),
    ("TRUE; 11 09:30 finished L1/lay-telephone; 11 09:40 finished L1/lay-service", NO, "finished Thu 11 Mar 09:40"),
    ("TRUE; 11 09:30 finished L1/lay-service; 11 09:40 finished L1/lay-telephone", NO, "finished Thu 11 Mar 09:40"),
    ("TRUE; 11 09:30 begun dig", NO, "begun again Thu 11 Mar 09:30"),
    ("TRUE; 11 09:31 begun dig", NO, "begun Thu 11 Mar 09:31 and not reported as finished"),
    ("TRUE; 10 09:00 begun L1/lay-service", YES, ""),
    ("TRUE; 11 09:30 begun L1/shade", NO, "begun again Thu 11 Mar 09:30"),
    ("TRUE; 11 09:30 shaded 84-160", NO, "shaded again"),
]
RAIN_AND_WATER = [
    ("TRUE; 11 09:20 rain of 3 in until 11 09:50", ASK, "it rained (3 in) until Thu 11 Mar 09:50, after the look"),
    ("TRUE; 11 09:20 rain until 11 09:50", ASK, "it rained until"),
    ("TRUE; 10 16:00 rain of 3 in until 10 20:00", YES, ""),
    ("CONDUITS; 10 10:00 rain of 3 in until 10 12:00; 10 13:00 ask shading", ASK, "it rained (3 in)"),
    ("TRUE; 11 09:20 rain of 3 in until 11 09:40; 11 09:50 word that shading stands by j-pace", YES, ""),
    ("TRUE; 11 09:20 rain of 3 in until 11 09:40; 11 09:30 word that shading stands by j-pace", ASK, "it rained"),
    ("TRUE; site: rain allowed 1 in; 11 09:20 rain of 0.6 in until 11 09:40", YES, ""),
    ("TRUE; site: rain allowed 1 in; 11 09:20 rain of 0.6 in until 11 09:30; 11 09:40 rain of 0.6 in until 11 09:50", ASK, "1.2 in"),
    ("TRUE; site: rain allowed 1 in; 11 09:20 rain until 11 09:40", ASK, "it rained until"),
    ("TRUE; 11 09:20 water stands 100-110", ASK, "water stood there Thu 11 Mar 09:20"),
    ("TRUE; 11 09:20 water stands 100-110; 11 10:00 ask 84-99", YES, ""),
    ("TRUE; site: rain allowed 1 in; 11 09:20 water stands 100-110", ASK, "water stood there"),
    ("TRUE; 11 09:20 water stands 100-110; 11 09:50 passes shading by i-haas; 11 09:55 releases shading by i-haas", YES, ""),
    # What comes after everything is covered changes nothing of it; where one gate is still to come it does.
    ("TRUE; 11 09:20 finished ribbon; 11 09:30 rain of 3 in until 11 09:50", YES, ""),
    ("TRUE; 11 09:20 filled 84-160; 11 09:30 rain of 3 in until 11 09:50", YES, ""),
    ("TRUE; 11 09:20 filled 84-120; 11 09:30 rain of 3 in until 11 09:50; 11 10:00 ask 84-119", YES, ""),
    ("TRUE; 11 09:20 filled 84-120; 11 09:30 rain of 3 in until 11 09:50", ASK, "it rained (3 in)"),
    ("TRUE; 11 09:20 filled 84-160; 11 09:25 dug open 100-110; 11 09:30 rain of 3 in until 11 09:50", NO, "dug open again"),
]
CLOCKS = [
    ("TRUE; 11 11:00 releases shading by i-haas [written 11 09:50, unchecked]; 11 10:00 ask 84-160", YES, ""),
    ("TRUE; 11 09:20 fails shading by i-haas; 11 09:50 passes shading by i-haas [written 11 09:30, unchecked]; 11 09:55 releases shading by i-haas; 11 10:00 ask 84-160", NO, "failed Thu 11 Mar 09:20"),
    ("TRUE; 11 09:20 takes back the last hold_released; 11 11:00 releases shading by i-haas [written 11 09:50, unchecked]; 11 12:00 ask 84-160", NO, "not released yet"),
    ("TRUE; 12 09:30 fails conduit by c-dunn [written 11 09:30, unchecked]", NO, "failed Thu 11 Mar 09:30"),
    ("TRUE; 12 09:30 dug open 84-160 [written 11 09:30, unchecked]", NO, "dug open again"),
    ("TRUE; 11 09:20 fails shading by i-haas [written 17 09:00]; 11 09:30 rain until 11 09:31 [written 11 09:50]", NO, "failed"),
    ("TRUE; 11 09:40 begun L1/lay-water [written 31 09:00, unchecked]; 11 10:00 by the clock here", ASK, "one of the two is wrong"),
]
WHO = [
    ("TRUE; site: inspector replaced", YES, ""),
    ("TRUE; site: Dunn leaves on the 10th", YES, ""),
    ("TRUE; site: Dunn leaves on the 9th", YES, ""),
    ("TRUE; site: contractor to release", YES, ""),
    ("TRUE; 11 09:30 takes back the last inspection_passed [by some labourer, unchecked]", ASK, "is said to be wrong by entry"),
    ("TRUE; 11 09:30 fails shading by i-haas; 11 09:40 takes back the last inspection_failed [by some labourer, unchecked]", NO, "failed"),
    ("TRUE; 11 09:30 fails shading by i-haas; 11 09:40 takes back the last inspection_failed", YES, ""),
    ("TRUE; 11 09:30 takes back the last hold_released", NO, "passed Thu 11 Mar 09:00, but not released yet"),
    ("TRUE; 11 09:30 takes back the last inspection_passed", ASK, "no look that passed is on record"),
    ("TRUE; 11 09:30 takes back the last hold_released; 11 09:40 takes back the last corrected", YES, ""),
]
THE_SITE_FILE_CHANGES = [
    ("TRUE; site: reach stretched; 11 10:00 ask 70-84", NO, "not released yet"),
    ("TRUE; site: reach stretched; 11 10:00 ask 70-160", NO, "not released yet"),
    ("TRUE; site: reach stretched; 11 10:00 ask 84-160", NO, "Make and check the joint of Water line, Main drive trench 0+70: not reported as finished."),
    ("TRUE; site: reach stretched; 8 12:00 checked the joint at 70; 11 10:00 ask 84-160", YES, ""),
    ("TRUE; site: reaches exchanged; 11 10:00 ask 84-160", YES, ""),
    ("TRUE; site: reaches exchanged; 11 10:00 ask 160-220", NO, "not released yet"),
    ("TRUE; site: a drain added", NO, "Lay Drain"),
    ("TRUE; site: service deeper", ASK, "otherwise than it was seen"),
    ("TRUE; site: service larger", ASK, "otherwise than it was seen"),
    ("TRUE; site: service in other material", ASK, "otherwise than it was seen"),
    ("TRUE; site: a box added", NO, "Set Second box"),
    ("TRUE; 11 09:30 word that shading stands by i-haas; site: service larger", ASK, "shading over Power service conduit, Main drive trench 0+84 to 1+60: ask again"),
    ("ALMOST; site: service larger; 11 08:00 word that shading stands by i-haas; site: as it is; 11 09:00 passes shading by i-haas; 11 09:15 releases shading by i-haas; site: service larger", ASK, "shading over Power service conduit, Main drive trench 0+84 to 1+60: ask again"),
    ("TRUE; site: service named anew", YES, ""),
    ("TRUE; site: service by another trade", YES, ""),
    ("TRUE; site: telephone inspected too", NO, "not released yet"),
    ("TRUE; site: service larger; 11 09:50 word that conduit+shading stands by i-haas [unchecked]", ASK, "otherwise"),
    ("TRUE; site: service larger; 11 09:50 word that conduit stands by c-dunn; 11 09:55 word that shading stands by i-haas", YES, ""),
]
STOPPED = [
    ("TRUE; 11 09:30 stop everywhere by d-okoro", NO, "Work was stopped Thu 11 Mar 09:30 by Daniel Okoro (Amsel Site Works): No shoring"),
    ("TRUE; 11 09:30 stop 100-110 by i-haas", NO, "Work was stopped"),
    ("TRUE; 11 09:30 stop 160-220 by i-haas", YES, ""),
    ("TRUE; 11 09:30 stop 100-110 by i-haas; 11 09:50 stop lifted by j-pace", YES, ""),
    ("TRUE; 11 09:30 stop 100-110 by i-haas; 11 09:50 stop lifted by r-amsel [unchecked]", NO, "Work was stopped"),
    ("TRUE; 11 09:30 stop everywhere by OSHA; 11 09:50 stop lifted by OSHA", YES, ""),
]
LOOKED_AGAIN = "; ".join(
    f"11 09:{m} passes {what} by {who}; 11 09:{m + 1} releases {what} by {who}"
    for m, what, who in ((30, "water", "c-dunn"), (40, "conduit", "c-dunn"), (50, "shading", "i-haas"))
)
"""Every look made once more, and released."""
A_DAY_ON_SITE = [
    ("TRUE; 11 09:30 test L0/test-water fails", NO, "Pressure test of Water line, Main drive trench 0+84 to 1+60: failed Thu 11 Mar 09:30. It lost 5 psi."),
    ("TRUE; 11 09:30 test L0/test-water fails; 11 10:00 ask 0-60", NO, ""),
    ("TRUE; 11 09:30 test L0/test-water fails; 11 09:40 finished L0/test-water", NO, "finished Thu 11 Mar 09:40, after it was looked at"),
    ("TRUE; 8 11:30 test L0/test-water fails", YES, ""),
    ("8 11:00 test L0/test-water fails; TRUE", YES, ""),
    ("TRUE; 8 12:30 test L0/test-water fails", NO, "failed Mon 8 Mar 12:30. It lost 5 psi."),
    ("TRUE; 11 09:30 test L0/test-water fails; 11 09:40 takes back the last test_failed", YES, ""),
    # A test that failed: mend, test again, look again; one of the three alone is not enough, in whatever order.
    (f"TRUE; 11 09:10 test L0/test-water fails; 11 09:15 mended 100-101; {LOOKED_AGAIN}", NO, "failed Thu 11 Mar 09:10. It lost 5 psi."),
    (f"TRUE; 11 09:10 test L0/test-water fails; 11 09:15 mended 100-101; 11 09:20 finished L0/test-water; 11 09:20 checked the joint at 84; {LOOKED_AGAIN}", YES, ""),
    (f"TRUE; 11 09:10 test L0/test-water fails; {LOOKED_AGAIN}; 11 09:56 mended 100-101; 11 09:57 finished L0/test-water", NO, "finished Thu 11 Mar 09:57, after it was looked at"),
    (f"TRUE; 11 09:10 test L0/test-water fails; 11 09:12 finished L0/test-water; 11 09:15 mended 100-101; {LOOKED_AGAIN}", NO, "it is made again"),
    ("TRUE; 11 09:10 test L0/test-water fails; 11 09:15 mended 100-101; 11 09:20 finished L0/test-water", NO, "after it was looked at"),
    # Mending alone, with nothing said to have failed.
    (f"TRUE; 11 09:15 mended 100-101; {LOOKED_AGAIN}", NO, "Pressure test of Water line, Main drive trench 0+84 to 1+60: made before what was fixed Thu 11 Mar 09:15; it is made again."),
    (f"TRUE; 11 09:15 mended 100-101; 11 09:20 finished L0/test-water; 11 09:20 checked the joint at 84; {LOOKED_AGAIN}", YES, ""),
    (f"TRUE; 11 09:15 mended 100-101; 11 09:20 finished L0/test-water; {LOOKED_AGAIN}", NO, "Make and check the joint of Water line, Main drive trench 0+84: made before what was fixed Thu 11 Mar 09:15"),
    (f"TRUE; 11 09:15 mended 100-101; {LOOKED_AGAIN}; 11 10:00 ask 84-99", YES, ""),
    (f"TRUE; 11 09:15 finished the repair of water; {LOOKED_AGAIN}", NO, "it is made again"),
    (f"TRUE; 11 09:15 finished the repair of water; 11 09:20 finished L0/test-water; 11 09:20 checked the joint at 84; {LOOKED_AGAIN}", YES, ""),
    (f"TRUE; 11 09:15 finished the repair of conduit; {LOOKED_AGAIN}", YES, ""),
    (f"TRUE; 11 09:15 mended 100-101; 11 09:18 takes back the last repair_reported; {LOOKED_AGAIN}", YES, ""),
    ("TRUE; 11 09:30 L1/lay-service not done", NO, "Lay Power service conduit"),
    ("TRUE; 11 09:30 dig not done", YES, ""),
    ("TRUE; 11 09:30 trench unsafe 100-110 by d-okoro", NO, "The trench was found not safe Thu 11 Mar 09:30 by Daniel Okoro (Amsel Site Works): A crack. Cleared by Daniel Okoro"),
    ("TRUE; 11 09:30 trench unsafe 100-110 by d-okoro; 11 10:00 ask 84-100", YES, ""),
    ("TRUE; 11 09:30 trench unsafe 100-110 by d-okoro; 11 09:40 trench safe 90-120 by l-fenn", YES, ""),
    ("TRUE; 11 09:30 trench unsafe 100-110 by d-okoro; 11 09:40 trench safe 100-105 by l-fenn", NO, "not safe"),
    ("TRUE; 11 09:30 trench unsafe 100-110 by d-okoro; 11 09:40 trench safe 100-105 by l-fenn; 11 09:41 trench safe 105-110 by l-fenn", YES, ""),
    ("TRUE; 11 09:20 trench safe 100-110 by l-fenn; 11 09:30 trench unsafe 100-110 by d-okoro", NO, "not safe"),
    ("TRUE; 11 09:30 trench unsafe 100-110 by d-okoro; 11 09:40 trench safe 90-120 by r-amsel [unchecked]", NO, "not safe"),
    ("TRUE; 11 09:30 trench unsafe 100-110 by d-okoro; 11 09:40 takes back the last trench_inspected [by some labourer, unchecked]", NO, "not safe"),
    ("TRUE; 11 09:30 line struck at 20 by r-amsel", NO, "Work was stopped Thu 11 Mar 09:30 by Ruth Amsel (Amsel Site Works): a line was struck. Nicked."),
    ("TRUE; 11 09:30 line struck at 100 by r-amsel; 11 09:50 stop lifted by r-amsel", YES, ""),
    ("TRUE; 11 09:30 line struck at 100 by r-amsel; 11 09:50 stop lifted by s-wirth", YES, ""),
    ("TRUE; 11 09:30 line struck at 100 by r-amsel; 11 09:50 stop lifted by c-dunn [unchecked]", NO, "a line was struck"),
]
WITNESS_POINTS = [
    *((f"site: shading witnessed; ALMOST; {booked}", verdict, words)
    for booked, verdict, words in (
        ("10 15:00 books shading for 11 08:00; 11 10:00 ask 84-160", YES, ""),
        ("10 15:00 books shading for 11 08:00; 11 08:20 ask 84-160", NO, "its time has not passed"),
        ("11 07:00 books shading for 11 08:00; 11 10:00 ask 84-160", NO, "asks for 1 working day of notice"),
        ("11 09:30 books shading for 11 08:00; 11 10:00 ask 84-160", NO, "written down after it began"),
        ("10 15:00 books shading for 11 08:00 to 08:01; 11 10:00 ask 84-160", NO, "shorter than a look takes"),
        ("10 15:00 books shading for 14 03:00; 15 10:00 ask 84-160", NO, "does not come at that hour"),
        ("10 15:00 books shading for 12 09:00; 12 10:00 ask 84-160", NO, "does not come at that hour"),
        ("9 10:00 books shading for 11 08:00; 11 07:00 calls the visit off; 11 10:00 ask 84-160", NO, "not released yet"),
        ("10 15:00 books shading for 11 08:00; 11 09:30 dug open 84-160; 11 10:00 ask 84-160", NO, "dug open again"),
        ("10 15:00 books shading for 11 08:00; 11 09:30 dug open to the shading 100-104; 11 10:00 ask 84-160", NO, "after it, dug open again"),
        ("10 15:00 books shading for 11 08:00; 11 08:10 fails shading by i-haas; 11 10:00 ask 84-160", NO, "failed"),
        ("10 15:00 books shading for 11 08:00; 11 08:30 ask 84-160", YES, ""),
        ("10 15:00 books shading for 11 08:00; 11 08:29 ask 84-160", NO, "its time has not passed"),
        ("10 15:00 books shading for 11 08:00 to 08:30; 11 08:30 ask 84-160", YES, ""),
        ("10 15:00 books shading for 11 08:00 to 08:29; 11 10:00 ask 84-160", NO, "shorter than a look takes"),
        ("11 08:00 books shading for 11 08:00; 11 10:00 ask 84-160", NO, "written down after it began"),
        ("10 15:00 books shading for 11 11:30; 11 12:30 ask 84-160", YES, ""),
        ("10 15:00 books shading for 11 11:31; 11 12:30 ask 84-160", NO, "does not come at that hour"),
        ("10 15:00 books shading for 11 07:59; 11 12:30 ask 84-160", NO, "asks for 1 working day of notice"),
        ("10 15:00 books water for 11 08:00; 11 10:00 ask 84-160", NO, "0+84 to 1+60: not released yet. Cleared"),
        ("10 15:00 books shading for 11 08:00; 10 15:10 takes back the last visit_booked [by some labourer, unchecked]; 11 10:00 ask 84-160", NO, "says that it is wrong"),
        ("10 15:00 books shading for 11 08:00; 10 16:00 i-haas cannot come before 16 08:00; 11 10:00 ask 84-160", NO, "gave word before it that they cannot come before Tue 16 Mar 08:00"),
        ("10 15:00 books shading for 11 08:00; 10 16:00 j-pace cannot come before 16 08:00 for shading; 11 10:00 ask 84-160", NO, "gave word before it"),
        ("10 15:00 books shading for 11 08:00; 10 16:00 c-dunn cannot come before 16 08:00; 11 10:00 ask 84-160", YES, ""),
        ("10 15:00 books shading for 11 08:00; 10 16:00 i-haas cannot come before 16 08:00 for water; 11 10:00 ask 84-160", YES, ""),
        ("10 15:00 books shading for 11 08:00; 10 16:00 i-haas cannot come before 11 08:00; 11 10:00 ask 84-160", YES, ""),
        ("10 15:00 books shading for 11 08:00; 11 08:00 i-haas cannot come before 16 08:00; 11 10:00 ask 84-160", YES, ""),
        ("10 15:00 books shading for 11 08:00; 10 16:00 i-haas cannot come before 16 08:00; 10 16:30 i-haas cannot come before 11 08:00; 11 10:00 ask 84-160", YES, ""),
        ("10 15:00 books shading for 11 08:00; 10 16:00 is called for shading at 11 08:00, refused; 11 10:00 ask 84-160", NO, "cannot come before Fri 12 Mar 00:00"),
        ("10 15:00 books shading for 11 08:00; 10 16:00 i-haas cannot come before 16 08:00; 10 16:30 is called for shading at 11 08:00, agreed; 11 10:00 ask 84-160", YES, ""),
        ("10 15:00 books shading for 11 08:00; 11 08:00 finished L1/lay-service; 11 10:00 ask 84-160", NO, "finished Thu 11 Mar 08:00"),
    )),
    *(
        (f"site: shading witnessed; CONDUITS; {shaded}10 15:00 books shading for 11 08:00; 11 10:00 ask 84-160", NO, "was not on record as finished by then")
        for shaded in ("", "10 14:00 begun L1/shade; ", "10 14:00 finished L1/shade; 10 14:30 begun L1/shade; ")
    ),
]
# fmt: on
CASES = [
    *THE_TRUE_STORY,
    *DUG_OPEN_OR_MENDED,
    *FAILED,
    *PHOTOGRAPHS,
    *NOBODY_LOOKED,
    *WORK,
    *RAIN_AND_WATER,
    *CLOCKS,
    *WHO,
    *THE_SITE_FILE_CHANGES,
    *STOPPED,
    *A_DAY_ON_SITE,
    *WITNESS_POINTS,
]  # fmt: skip


@pytest.mark.parametrize(("story", "verdict", "words"), CASES, ids=[f"{n}: {c[0][:80]}" for n, c in enumerate(CASES)])
def test_may_it_be_covered(story: str, verdict: CoverVerdict, words: str) -> None:
    is_answered(story, verdict, words)


def is_answered(story: str, verdict: CoverVerdict, words: str) -> None:
    """Assert what is answered at the end of a story, and words of its reasons."""
    answer = told(story).answer()
    reasons = " | ".join(f"{r.text} Cleared by {r.who}" for r in answer.reasons)
    assert answer.verdict is verdict, reasons
    assert words in reasons
    assert answer.yes is (not answer.reasons)


def test_there_are_many_cases() -> None:
    assert len(CASES) == len({c[0] for c in CASES}) >= 60


# fmt: off
REFUSED = [
    ("TRUE; 11 09:30 test L0/lay-water fails", "Only a test can fail"),
    ("TRUE; 11 09:30 trench safe 84-160 by r-amsel", "Only the site's competent person on that day inspects the trench"),
    ("TRUE; 11 09:30 trench safe 84-9999 by d-okoro", "ends before that"),
    ("TRUE; 11 09:30 line struck at 100 by r-amsel; 11 09:50 stop lifted by c-dunn", "or the line's owner may lift it"),
    ("TRUE; 12 09:30 fails conduit by c-dunn [written 11 09:30]", "has not happened yet by the clock here"),
    ("TRUE; 11 11:00 releases shading by i-haas [written 11 09:50]", "has not happened yet"),
    ("TRUE; 11 09:20 rain until 11 12:00 [written 11 09:50]", "has not happened yet"),
    ("TRUE; 1 09:20 mended 100-110 [written 11 09:50]", "say why it is written down only now"),
    ("TRUE; 11 09:20 passes shading by somebody", "nobody in the site's list of people"),
    ("TRUE; 11 09:20 fails shading by somebody", "nobody in the site's list of people"),
    ("TRUE; 11 09:20 passes shading by r-amsel", "Ruth Amsel may not pass this: only Ingrid Haas"),
    ("TRUE; 11 09:20 passes conduit by i-haas", "Ingrid Haas may not pass this"),
    ("TRUE; site: Dunn leaves on the 10th; 11 09:30 passes conduit by c-dunn", "Carol Dunn may not pass this"),
    ("TRUE; 11 09:20 dug open 84-300", "Main drive trench ends before that"),
    ("TRUE; 11 09:20 rain of 40 in until 11 09:40", "No rain is as heavy"),
    ("TRUE; 11 09:30 takes back the last inspection_passed [by some labourer]", "was written by Ruth Amsel; only they may"),
    ("TRUE; 11 09:30 mended 100-110 [by Tom Bell]; 11 09:35 takes back the last repair_reported [by some labourer]", "only they, or the contractor may take it back"),
    ("TRUE; 11 09:30 fails conduit by c-dunn [by Carol Dunn]; 11 09:35 takes back the last inspection_failed", "only they may take it back"),
    ("TRUE; 11 09:30 stop everywhere by i-haas; 11 09:50 stop lifted by r-amsel", "Only whoever ordered the stop"),
]
# fmt: on


@pytest.mark.parametrize(("story", "words"), REFUSED, ids=[r[0][-70:] for r in REFUSED])
def test_it_is_not_written_down(story: str, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        told(story)
