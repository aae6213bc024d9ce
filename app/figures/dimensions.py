"""Dimension lines and words for drawings to scale, placed so that no words cover others."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import plotly.graph_objects as go

from app.figures.free_spots import FreeSpots, Spot
from scheduler.trench import PlacedLine

INK = "#2b2f36"
BACKING = "rgba(255,255,255,0.86)"
ABOVE: Spot = ("center", 0, 11)
BELOW: Spot = ("center", 0, -11)
ON: Spot = ("center", 0, 0)
RIGHT: Spot = ("left", 6, 0)
LEFT: Spot = ("right", -6, 0)
FARTHER: tuple[Spot, ...] = tuple(("center", along, up) for up in (26, -26, 11, -11) for along in (0, 16, -16, 30, -30))
"""Where else words may go when the places next to a point are taken."""


@dataclass
class Sheet:
    """A drawing and the words on it; `scale` is the least pixels to the unit, `down` the same for depths.

    A negative `down` is for drawings in which y counts upwards.

    Words that would cover others or leave the window move to the next place offered; those
    that are not needed are left out when none is free.
    """

    figure: go.Figure
    scale: float
    window: tuple[float, float]
    down: float | None = None
    spots: FreeSpots = field(init=False)

    def __post_init__(self) -> None:
        self.spots = FreeSpots((self.window[0] * self.scale, self.window[1] * self.scale))

    def block(self, *, left: float, right: float, top: float, bottom: float) -> None:
        """Keep words off a part of the drawing."""
        self.spots.taken.append((left * self.scale, top * self._down, right * self.scale, bottom * self._down))

    @property
    def _down(self) -> float:
        return self.scale if self.down is None else self.down

    def write(
        self,
        text: str,
        *,
        x: float,
        y: float,
        places: tuple[Spot, ...] = (ON,),
        needed: bool = True,
        colour: str = INK,
        backed: bool = False,
        turned: bool = False,
    ) -> None:
        """Write words at a point, at the first of the places beside it that is free."""
        bare, at = re.sub(r"<[^>]+>", "", text), (x * self.scale, y * self._down)
        spot = self.spots.place(bare, at, places, needed=needed, turned=turned)
        if spot is None:
            return
        anchor, along, up = spot
        self.figure.add_annotation(
            text=text, x=x, y=y, xanchor=anchor, yanchor="middle", xshift=along, yshift=up,
            textangle=-90 if turned else 0, showarrow=False, align="left", borderpad=1,
            font={"size": 11, "color": colour}, bgcolor=BACKING if backed or turned else None,
        )  # fmt: skip


def arrow(figure: go.Figure, *, x0: float, y0: float, x1: float, y1: float, governs: bool = False) -> None:
    """Draw a line with a tick at either end, thick where it governs."""
    upright = abs(x1 - x0) < abs(y1 - y0)
    figure.add_scatter(
        x=[x0, x1], y=[y0, y1], mode="lines+markers", hoverinfo="skip",
        line={"color": INK, "width": 3.0 if governs else 1.2},
        marker={
            "symbol": "line-ew-open" if upright else "line-ns-open", "size": 8, "color": INK,
            "line": {"width": 1.4, "color": INK},
        },
    )  # fmt: skip


def upright(sheet: Sheet, *, x: float, upper: float, lower: float, text: str) -> None:
    """Dimension a height."""
    arrow(sheet.figure, x0=x, y0=upper, x1=x, y1=lower)
    sheet.write(text, x=x, y=(upper + lower) / 2.0, turned=True)


def across(sheet: Sheet, *, left: float, right: float, y: float, text: str, governs: bool = False) -> None:
    """Dimension a width; thick where it governs."""
    arrow(sheet.figure, x0=left, y0=y, x1=right, y1=y, governs=governs)
    words = f"<b>{text}</b>" if governs else text
    sheet.write(words, x=(left + right) / 2.0, y=y, places=(ABOVE, BELOW, *FARTHER), backed=True)


def between(sheet: Sheet, upper: PlacedLine, lower: PlacedLine, *, text: str, governs: bool = False) -> None:
    """Dimension the nearest distance between two runs, one above the other; thick where it governs."""
    x0, x1 = _nearest(upper, lower)
    arrow(sheet.figure, x0=x0, y0=upper.bottom_in, x1=x1, y1=lower.top_in, governs=governs)
    words = f"<b>{text}</b>" if governs else text
    middle = (upper.bottom_in + lower.top_in) / 2.0
    sheet.write(words, x=(x0 + x1) / 2.0, y=middle, places=(RIGHT, LEFT, ON, ABOVE, BELOW, *FARTHER), backed=True)


def over(sheet: Sheet, upper: PlacedLine, lower: PlacedLine, *, text: str, governs: bool = False) -> None:
    """Dimension how far one run lies above another beside it; thick where it governs."""
    level, edge = upper.bottom_in, upper.x_in
    sheet.figure.add_shape(
        type="line", x0=edge, x1=lower.x_in, y0=level, y1=level, line={"color": INK, "width": 0.7, "dash": "dot"}
    )
    arrow(sheet.figure, x0=lower.x_in, y0=level, x1=lower.x_in, y1=lower.top_in, governs=governs)
    words = f"<b>{text}</b>" if governs else text
    middle = (level + lower.top_in) / 2.0
    sheet.write(words, x=lower.x_in, y=middle, places=(RIGHT, LEFT, *FARTHER), backed=True)


def _nearest(upper: PlacedLine, lower: PlacedLine) -> tuple[float, float]:
    half_a, half_b = upper.width_in / 2.0, lower.width_in / 2.0
    low, high = max(upper.x_in - half_a, lower.x_in - half_b), min(upper.x_in + half_a, lower.x_in + half_b)
    if low <= high:
        middle = (low + high) / 2.0
        return middle, middle
    side = 1.0 if lower.x_in > upper.x_in else -1.0
    return upper.x_in + side * half_a, lower.x_in - side * half_b
