"""A film of the site from above: one drawing after another in a single SVG that any browser plays."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree.ElementTree import Element, SubElement, fromstring

from app.figures.svg_parts import part, words, written

FRAME_S = 0.8
"""For which each drawing is shown."""
_CAPTION_PX = 26.0


def film_svg(frames: Sequence[tuple[str, str]], *, style: str, title: str) -> str:
    """Return a film of drawings of one size, each given with the words over it; it begins anew at its end.

    `style` is the style sheet of the drawings. Where films are not played, the first drawing stands.
    """
    drawings = [fromstring(drawing) for _, drawing in frames]
    _, _, wide, tall = (float(x) for x in drawings[0].get("viewBox", "").split())
    box = f"0 0 {wide:g} {tall + _CAPTION_PX:g}"
    root = Element("svg", {"xmlns": "http://www.w3.org/2000/svg", "viewBox": box, "role": "img"})
    SubElement(root, "title").text = title
    SubElement(root, "style").text = style
    part(root, "rect", width=wide, height=tall + _CAPTION_PX, fill="#fbf9f4")
    for number, ((said, _), drawing) in enumerate(zip(frames, drawings, strict=True)):
        shown = part(root, "g", "frame", visibility="visible" if number == 0 else "hidden")
        _show_in_turn(shown, number, len(frames))
        words(shown, said, (wide / 2, 13.0), "name")
        moved = part(shown, "g", transform=f"translate(0 {_CAPTION_PX:g})")
        moved.extend(drawing)
    return written(root)


def _show_in_turn(shown: Element, number: int, count: int) -> None:
    """Let a drawing be seen for its own share of the film."""
    values = ["visible" if number == 0 else "hidden"]
    times = [0.0]
    if number:
        values.append("visible")
        times.append(number / count)
    if number + 1 < count:
        values.append("hidden")
        times.append((number + 1) / count)
    part(
        shown,
        "animate",
        attributeName="visibility",
        calcMode="discrete",
        dur=f"{count * FRAME_S:g}s",
        repeatCount="indefinite",
        values=";".join(values),
        keyTimes=";".join(f"{t:.5f}" for t in times),
    )
