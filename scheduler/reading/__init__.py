"""Reading matter made from the records, the register and the families of rules, so that it cannot go stale."""

from scheduler.reading.catalogue import CatalogueEntry, catalogue, entries_with, words_near
from scheduler.reading.schemas import SCHEMA_OF_SHEETS, SCHEMA_OF_SITES, schema_for

__all__ = [
    "SCHEMA_OF_SHEETS",
    "SCHEMA_OF_SITES",
    "CatalogueEntry",
    "catalogue",
    "entries_with",
    "schema_for",
    "words_near",
]
