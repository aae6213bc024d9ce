"""What is only supposed, typed as with `report`: `delayed wire --not-before '2026-06-25 08:00'`; nothing is written."""

from __future__ import annotations

import argparse
import shlex
from collections.abc import Sequence
from datetime import datetime

from scheduler import BadInput, Case
from scheduler.cli.asked import fault
from scheduler.cli.report_kinds import REPORTS, body_of
from scheduler.ledger import Event, read_event

NEVER = ("released", "wrong")
"""Reports that mean nothing unless they are on record."""


class _Words(argparse.ArgumentParser):
    """Reads the words of one report; says what is wrong with them instead of ending the program."""

    def error(self, message: str) -> None:  # type: ignore[override]
        """Raise BadInput."""
        raise BadInput([fault("--what-if", f"cannot be read: {message}", self.prog)])


def supposed(case: Case, texts: Sequence[str], as_of: datetime) -> list[Event]:
    """Return the events that are supposed; raises BadInput for what cannot be read or names nothing here."""
    events = []
    for text in texts:
        try:
            words = shlex.split(text)
        except ValueError as error:
            raise BadInput([fault("--what-if", f"cannot be read: {error}", text)]) from None
        kinds = [k for k in REPORTS if k not in NEVER]
        if not words or words[0] not in kinds:
            raise BadInput([fault("--what-if", "names no report", text, "one of: " + ", ".join(kinds))])
        name, _, asked = REPORTS[words[0]]
        parser = _Words(prog=words[0], add_help=False)
        for flag, options in asked:
            parser.add_argument(flag, **options)
        events.append(read_event(name, body_of(case, name, parser.parse_args(words[1:]), as_of)))
    return events
