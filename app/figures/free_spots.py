"""Where words may stand in a drawing so that none covers another."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from typing import Literal

Anchor = Literal["left", "center", "right"]
Spot = tuple[Anchor, float, float]
"""Where words may stand beside a point: anchor, pixels to the right, pixels up."""
Box = tuple[float, float, float, float]
"""Left, top, right, bottom, in pixels."""
LETTER_PX, BOLD_PX, LINE_PX = 6.2, 7.4, 13.5
"""Width of a letter of 11 px type, plain and bold, and height of its line, each with its share of room."""


@dataclass
class FreeSpots:
    """The boxes of a drawing that are taken; its left and right, and where they count its top and bottom edge [px]."""

    edges: tuple[float, float]
    heights: tuple[float, float] = (-inf, inf)
    taken: list[Box] = field(default_factory=list)

    def place(
        self,
        text: str,
        at: tuple[float, float],
        places: tuple[Spot, ...],
        *,
        needed: bool,
        turned: bool = False,
        letter_px: float = LETTER_PX,
    ) -> Spot | None:
        """Take the first free of the places beside a point, and return it.

        Where none is free, the least covered one is taken for words that are needed, and None is returned for others.
        """
        boxes = [_box(letter_px * len(text) + 4.0, at, place, turned=turned) for place in places]
        free = next((i for i, box in enumerate(boxes) if self._is_free(box)), None)
        if free is None:
            if not needed:
                return None
            free = min(range(len(boxes)), key=lambda i: self._covered(boxes[i]))
        self.taken.append(boxes[free])
        return places[free]

    def _is_free(self, box: Box) -> bool:
        left, top, right, bottom = box
        if left < self.edges[0] or right > self.edges[1] or top < self.heights[0] or bottom > self.heights[1]:
            return False
        return not any(a < right and left < c and b < bottom and top < d for a, b, c, d in self.taken)

    def _covered(self, box: Box) -> float:
        return sum(
            max(0.0, min(box[2], other[2]) - max(box[0], other[0]))
            * max(0.0, min(box[3], other[3]) - max(box[1], other[1]))
            for other in self.taken
        )


def _box(wide: float, at: tuple[float, float], place: Spot, *, turned: bool) -> Box:
    anchor, along, up = place
    high = LINE_PX
    if turned:
        wide, high = high, wide
    left = at[0] + along - {"left": 0.0, "center": wide / 2.0, "right": wide}[anchor]
    top = at[1] - up - high / 2.0
    return left, top, left + wide, top + high
