"""Entries of a journal for tests, as the program itself would write them, without a file."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from scheduler.ledger.events import Event
from scheduler.ledger.plausible import Writing
from scheduler.ledger.seen import Looking
from scheduler.ledger.store import Entry
from scheduler.ledger.writing import as_written
from scheduler.network.model import Network
from scheduler.site.site_record import Site


class Record:
    """A journal in memory; the site file may change between entries."""

    def __init__(self, site: Site, network: Network) -> None:
        self.entries: list[Entry] = []
        self.use(site, network)

    def use(self, site: Site, network: Network) -> None:
        """Go on with another version of the site file."""
        self.site, self.network, self.looking = site, network, Looking(network)

    def write(self, happened: Event, at: datetime, by: str = "test") -> Entry:
        """Add an event as the program fills it in; raises BadInput when it would not be written."""
        writing = Writing(self.site, self.network, tuple(self.entries), at, by, self.looking)
        return self.add(as_written(writing, happened), at, by)

    def add(self, happened: Event, at: datetime, by: str = "test") -> Entry:
        """Add an event as it is, without any check."""
        number = len(self.entries) + 1
        self.entries.append(Entry(number, at, by, happened, "", f"{number:064x}"))
        return self.entries[-1]


def written(site: Site, network: Network, said: Iterable[tuple[datetime, Event]], by: str = "test") -> list[Entry]:
    """Return entries of events in the order given, each as the program would write it."""
    record = Record(site, network)
    for at, happened in said:
        record.write(happened, at, by)
    return record.entries
