"""Pages of paper: sizes, letters, and what stands at the head and foot of each."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import inch
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate, Paragraph

from scheduler.export.letters import marked, printable
from scheduler.trench.cautions import CAUTIONS

PAPER: dict[str, tuple[float, float]] = {"letter": LETTER, "a4": A4}
"""Width and height [points]: US Letter is size A of ASME Y14.1, A4 is of ISO 216."""
MARGIN = 0.5 * inch
HEAD, FOOT = 0.3 * inch, 0.45 * inch
"""Room for the lines at the head and foot of each page."""
TALLEST = 360.0
"""Most that one row of a table may take of a page's height [points]: about half, so that breaks leave few gaps."""
SANS, BOLD = "Helvetica", "Helvetica-Bold"
INVENTED = "INVENTED DEMONSTRATION DATA"


def style(size: float, *, bold: bool = False, right: bool = False, after: float = 0.0) -> ParagraphStyle:
    """Return a paragraph style of a size [points]; long words are broken, never cut off."""
    return ParagraphStyle(
        f"{size}{bold}{right}{after}",
        fontName=BOLD if bold else SANS,
        fontSize=size,
        leading=size * 1.2,
        alignment=TA_RIGHT if right else 0,
        splitLongWords=1,
        spaceAfter=after,
    )


@dataclass(frozen=True, slots=True)
class Running:
    """What stands on every page."""

    title: str
    """What the paper is, whom for, and which days."""
    site: str
    invented: bool
    record: str = ""
    """How the journal stood; empty where none is kept."""


def make_pdf(story: Sequence[Flowable], running: Running, paper: str) -> bytes:
    """Return a PDF of flowing text on numbered pages; the same story gives the same bytes."""
    width, height = PAPER[paper]
    out = io.BytesIO()
    document = BaseDocTemplate(
        out,
        pagesize=(width, height),
        title=printable(running.title),
        author=printable(running.site),
        lang="en-US",
        invariant=1,
    )
    body = Frame(
        MARGIN,
        MARGIN + FOOT,
        width - 2 * MARGIN,
        height - 2 * MARGIN - HEAD - FOOT,
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )
    document.addPageTemplates(
        PageTemplate("page", [body], onPage=lambda canvas, _: _edges(canvas, running, width, height))
    )
    document.build([*story], canvasmaker=_Numbered)
    return out.getvalue()


def cautions() -> list[Flowable]:
    """Return the usual cautions, all of them, the gravest in bold."""
    first, *rest = CAUTIONS
    return [
        Paragraph(marked(first), style(9, bold=True, after=2)),
        *(Paragraph(marked(c), style(8, after=1)) for c in rest),
    ]


class _Numbered(Canvas):
    """A canvas that writes how many pages there are once it knows: `page 2 of 5`."""

    COUNT = "pagecount"

    def save(self) -> None:
        """Write the number of pages where each page left room for it, and end."""
        pages = self.getPageNumber() - 1
        self.beginForm(self.COUNT)
        self.setFont(SANS, 8)
        self.drawString(0, 0, f"of {pages}")
        self.endForm()
        super().save()


def _edges(canvas: Canvas, running: Running, width: float, height: float) -> None:
    """Draw the head and the foot of a page; texts too long for one line end in dots."""
    canvas.saveState()
    top, wide = height - MARGIN - 9, width - 2 * MARGIN
    canvas.setFont(BOLD, 9)
    canvas.drawString(MARGIN, top, fitted(running.title, BOLD, 9, wide * 0.58))
    canvas.setFont(SANS, 9)
    canvas.drawRightString(width - MARGIN, top, fitted(running.site, SANS, 9, wide * 0.4))
    canvas.setFont(SANS, 7)
    canvas.drawRightString(width - MARGIN, top - 11, fitted(running.record, SANS, 7, wide))
    canvas.setLineWidth(0.8)
    canvas.line(MARGIN, top - 4, width - MARGIN, top - 4)
    canvas.line(MARGIN, MARGIN + 24, width - MARGIN, MARGIN + 24)
    _caution(canvas, width)
    canvas.setFont(SANS, 8)
    number = f"page {canvas.getPageNumber()}"
    canvas.drawRightString(width - MARGIN - 24, MARGIN, number)
    canvas.translate(width - MARGIN - 22, MARGIN)
    canvas.doForm(_Numbered.COUNT)
    canvas.restoreState()


def _caution(canvas: Canvas, width: float) -> None:
    """Draw the gravest caution at the foot, on two lines if need be, beside the page's number."""
    words = Paragraph(marked(CAUTIONS[0]), style(7.5, bold=True))
    _, tall = words.wrap(width - 2 * MARGIN - 75, 100)
    words.drawOn(canvas, MARGIN, MARGIN + 21 - tall)


def fitted(text: str, font: str, size: float, wide: float) -> str:
    """Return text, cut to a width [points] and ended with dots if it is longer."""
    text = printable(text)
    if stringWidth(text, font, size) <= wide:
        return text
    while text and stringWidth(text + "...", font, size) > wide:
        text = text[:-1]
    return text + "..."


def widths(shares: Sequence[float], paper: str) -> list[float]:
    """Return column widths [points] that fill a page between its margins."""
    room = PAPER[paper][0] - 2 * MARGIN
    return [room * share / sum(shares) for share in shares]


def parts(cell: Sequence[Flowable], wide: float) -> list[list[Flowable]]:
    """Deal what stands in a cell into as many cells as keep each from being taller than a page.

    A table cannot break inside a row without tearing short rows too, so tall ones are broken before.
    """
    dealt: list[list[Flowable]] = [[]]
    room = TALLEST
    waiting = list(cell)
    while waiting:
        piece = waiting.pop(0)
        _, tall = piece.wrap(wide, TALLEST)
        if tall > TALLEST:
            waiting = [*piece.split(wide, TALLEST - 24), *waiting]
            continue
        if tall > room:
            dealt.append([])
            room = TALLEST
        dealt[-1].append(piece)
        room -= tall
    return dealt


Cell = Any
"""What stands in a cell of a table: text, a flowable, or a list of flowables."""
