"""Where the journal of a site lies, decided here for every part that opens one."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_path

import scenarios
from scheduler.ledger.store import Journal, journal_path

JOURNAL_VARIABLE = "JOINTTRENCH_JOURNAL"
"""Names a file, a folder for the journals of many sites, or a database URL, for everything that opens a journal."""


@dataclass(frozen=True, slots=True)
class JournalPlace:
    """A journal that may not be made yet."""

    where: str
    """A file or a database URL."""
    site: str = ""
    """The name of the job among others in a database; a file holds one."""

    @property
    def made(self) -> bool:
        """Whether a journal may be there to read; a database is always asked."""
        return "://" in self.where or Path(self.where).exists()

    def open(self) -> Journal:
        """Open the journal, and make it when there is none; raises BadInput when it cannot be reached."""
        if "://" not in self.where:
            Path(self.where).parent.mkdir(parents=True, exist_ok=True)
        return Journal.open(self.where, site=self.site)


def place_of(site_file: Path, said: str = "") -> JournalPlace:
    """Return where the journal of a site file lies.

    `said` (or else JOINTTRENCH_JOURNAL) names a database URL, a folder or a file. When nothing is said it lies
    beside the site file, unless nobody may write there or the site came with this program, whose
    folders the next version replaces: then in the user's own data folder.
    """
    said = said or os.environ.get(JOURNAL_VARIABLE, "")
    if "://" in said:
        return JournalPlace(said, site_file.stem)
    if said and not Path(said).is_dir():
        return JournalPlace(said)
    beside = journal_path(site_file.resolve())
    folder = Path(said) if said else beside.parent
    bundled = beside.parent == Path(scenarios.__file__).resolve().parent
    if not said and (bundled or not os.access(folder, os.W_OK)):
        folder = user_data_path("jointtrench", appauthor=False)
    return JournalPlace(str(folder / beside.name))
