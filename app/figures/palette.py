"""Colours, dashes and labels of line kinds: the APWA Uniform Color Code, never colour alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from scheduler.site import LineKind

CODE_NAME = "APWA Uniform Color Code (ANSI Z535.1 colours)"
"""The published code for marking underground lines, as named on screen."""


@dataclass(frozen=True, slots=True)
class LineMark:
    """How one kind of line is drawn. The dash and the label tell kinds apart that share a colour."""

    colour: str
    """A screen value of the code's colour, dark enough to be seen on white and light enough on near-black."""
    colour_name: str
    ink: str
    """Text on top of the colour."""
    dash: str
    """Plotly dash of a line seen from above or from the side."""
    hatch: str
    """Plotly fill pattern of a line seen in section; empty: filled."""
    label: str
    """One or two letters."""
    name: str


_RED, _ORANGE, _BLUE, _GREEN, _YELLOW, _PURPLE = "#d3202a", "#e8730c", "#1f6fd0", "#1b8a46", "#e3b70a", "#8a3fb0"

MARKS: Mapping[LineKind, LineMark] = {
    "power": LineMark(_RED, "red", "#ffffff", "solid", "", "P", "Power"),
    "lighting": LineMark(_RED, "red", "#ffffff", "dot", "x", "L", "Lighting"),
    "communications": LineMark(_ORANGE, "orange", "#000000", "dash", "", "C", "Communications"),
    "water": LineMark(_BLUE, "blue", "#ffffff", "solid", "", "W", "Water"),
    "reclaimed": LineMark(_PURPLE, "purple", "#ffffff", "solid", "", "RW", "Reclaimed water"),
    "irrigation": LineMark(_PURPLE, "purple", "#ffffff", "dot", "x", "IR", "Irrigation"),
    "sewer": LineMark(_GREEN, "green", "#ffffff", "longdash", "", "S", "Sewer"),
    "storm": LineMark(_GREEN, "green", "#ffffff", "dot", "x", "SD", "Storm drain"),
    "gas": LineMark(_YELLOW, "yellow", "#000000", "dashdot", "", "G", "Gas"),
}
"""Red power and lighting; orange communications; blue potable water; purple reclaimed and irrigation; green
sewers and drains; yellow gas."""
