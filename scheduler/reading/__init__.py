"""Reading matter made from the records, the register and the families of rules, so that it cannot go stale."""

from scheduler.reading.catalogue import CatalogueEntry, catalogue, entries_with, words_near
from scheduler.reading.made import REFERENCE
from scheduler.reading.schemas import schema_for

__all__ = [
    "REFERENCE",
    "CatalogueEntry",
    "catalogue",
    "entries_with",
    "schema_for",
    "words_near",
]
