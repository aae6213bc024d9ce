"""Parts of a drawing in SVG: what is drawn by several figures, each as an element with its own name for the style."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from xml.etree.ElementTree import Element, SubElement, tostring

from app.figures.alignment_paths import Point

HAND = "M-5 1V-4M-1.8 0V-7M1.6 0V-7M5 1V-5M-5 1Q-5 7 0 7Q5 7 5 1Z"
"""An open hand held up: a hold point that is not released."""
EYE = "M-6 0Q0 -5 6 0Q0 5 -6 0ZM-1.6 0A1.6 1.6 0 1 0 1.6 0A1.6 1.6 0 1 0 -1.6 0"
CROSS = "M-4.5 -4.5L4.5 4.5M-4.5 4.5L4.5 -4.5"
LAMP = "M0 -6V-3M-3 0A3 3 0 1 1 3 0L2 4H-2ZM-2 6H2"
"""A lamp: trench that stands open at night."""


def part(parent: Element, tag: str, name: str = "", **fields: object) -> Element:
    """Add an element with a class `name`; in the names of the fields _ stands for -."""
    given = {key.strip("_").replace("_", "-"): _said(value) for key, value in fields.items()}
    return SubElement(parent, tag, {**({"class": name} if name else {}), **given})


def polyline(parent: Element, points: Sequence[Point], name: str, **fields: object) -> Element:
    """Add an open line through points."""
    return part(parent, "polyline", name, points=" ".join(f"{_said(x)},{_said(y)}" for x, y in points), **fields)


def sign(parent: Element, path: str, at: Point, name: str, *, size: float = 1.0, turn: float = 0.0) -> Element:
    """Add a sign about a point, so many times its usual size, turned by so many degrees."""
    placed = f"translate({_said(at[0])} {_said(at[1])}) scale({_said(size)}) rotate({_said(turn)})"
    return part(parent, "path", name, d=path, transform=placed)


def words(parent: Element, text: str, at: Point, name: str, *, anchor: str = "middle") -> Element:
    """Add words at a point."""
    made = part(parent, "text", name, x=at[0], y=at[1], text_anchor=anchor, dominant_baseline="middle")
    made.text = text
    return made


def titled(element: Element, text: str) -> Element:
    """Let an element be told by words, when it is pointed at and to those who do not see it."""
    SubElement(element, "title").text = text
    return element


def ring(points: Iterable[Point]) -> str:
    """Return a closed path through points."""
    return "M" + "L".join(f"{_said(x)} {_said(y)}" for x, y in points) + "Z"


def written(root: Element) -> str:
    """Return the drawing as text; all words in it are escaped."""
    return tostring(root, encoding="unicode")


def _said(value: object) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)
