"""The cautions shown wherever depths, slopes, separations, energised lines or cover are shown."""

from __future__ import annotations

CAUTIONS: tuple[str, ...] = (
    "Trenches kill. A competent person inspects the trench before each day's work, after rain, and when anything "
    "changes, and decides who may enter.",
    "The authority having jurisdiction says which codes apply and when the trench may be covered.",
    "Each utility's own standard governs its lines, its clearances and its crew.",
    "Electrical, gas and plumbing work belongs to licensed trades.",
    "Local rules and the edition adopted where you build override every value shown here.",
    "This tool neither classifies soil nor releases a hold; people do.",
    "Call before you dig, wait for every owner's answer, and dig by hand near the marks.",
)
