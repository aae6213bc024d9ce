"""The trench itself: section geometry, layout rules, quantities. Pure functions of a site."""

from scheduler.trench.along import stretch_within
from scheduler.trench.book import Book
from scheduler.trench.cautions import CAUTIONS
from scheduler.trench.checks.apart_checks import clear_in
from scheduler.trench.idle_entries import IdleEntry
from scheduler.trench.layout_check import PlacedFinding, placed_findings
from scheduler.trench.looked_at import JOINED_FIRST, Applied, LookedAt, by_line, look
from scheduler.trench.open_questions import OpenQuestion, alike
from scheduler.trench.ordered import Material, materials, tons_said
from scheduler.trench.pipes import BANK_GAP_IN, size_said
from scheduler.trench.quantities import quantities
from scheduler.trench.register import RULES
from scheduler.trench.section import half_widths_in, sections
from scheduler.trench.section_records import Layer, PlacedLine, Section
from scheduler.trench.separations import separation, water_and_sewer

__all__ = [
    "BANK_GAP_IN",
    "CAUTIONS",
    "JOINED_FIRST",
    "RULES",
    "Applied",
    "Book",
    "IdleEntry",
    "Layer",
    "LookedAt",
    "Material",
    "OpenQuestion",
    "PlacedFinding",
    "PlacedLine",
    "Section",
    "alike",
    "by_line",
    "clear_in",
    "half_widths_in",
    "look",
    "materials",
    "placed_findings",
    "quantities",
    "sections",
    "separation",
    "size_said",
    "stretch_within",
    "tons_said",
    "water_and_sewer",
]
