"""Words that say nothing are no evidence, no reason and no condition."""

from __future__ import annotations

from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path

import pytest

import scheduler
from scheduler.errors import BadInput
from scheduler.ledger.events import Corrected, HoldReleased, InspectionFailed
from scheduler.ledger.place import place_of
from scheduler.ledger.writing import write_down

SMALL = scheduler.bundled_sites()["orchard-lane"]
HOLD, LOOK = "hold/conduit-look/pole-hedge/L0", "look/conduit-look/pole-hedge/L0"
NOON = datetime.fromisoformat("2027-03-10T12:00:00-07:00")


@pytest.mark.parametrize("blank", [" ", "\t\n", "...", "-", "\u200b", "\u00a0"])
def test_what_says_nothing_is_refused(blank: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))
    case = scheduler.load(SMALL)
    events = [
        HoldReleased(hold=HOLD, person="c-dunn", role="inspector", evidence=blank, when=NOON),
        InspectionFailed(looks=(LOOK,), inspector="c-dunn", faults=blank, when=NOON),
        Corrected(supersedes=1, reason=blank),
    ]
    with closing(place_of(case.site, SMALL).open()) as journal:
        for event in events:
            with pytest.raises(BadInput, match="says nothing"):
                write_down(journal, case.site, case.network, event, at=NOON + timedelta(hours=1), by="Carol Dunn")
        assert journal.entries() == ()
