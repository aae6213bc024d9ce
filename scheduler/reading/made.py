"""The files beside the bundled sites that are made from the records and the register."""

from __future__ import annotations

from pathlib import Path

import scenarios
from scheduler.reading.reference import reference_text
from scheduler.reading.schemas import SCHEMA_OF_SHEETS, SCHEMA_OF_SITES, schema_for

FOLDER = Path(scenarios.__file__).parent
"""Where they lie."""
REFERENCE = FOLDER / "REFERENCE.md"


def made_files() -> dict[str, str]:
    """Return the text of each such file by its name."""
    return {
        REFERENCE.name: reference_text(),
        SCHEMA_OF_SITES: schema_for(),
        SCHEMA_OF_SHEETS: schema_for(sheet=True),
    }
