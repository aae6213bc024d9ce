"""Hold tags: one page a hold point, to be hung at the trench until it is released.

Black on white with very large words, so that it reads through a wet sleeve and from the excavator's
seat. A tag releases nothing: the person named signs it, and says so in the journal.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta

import segno
from reportlab.lib.units import inch
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, KeepInFrame, Paragraph

from scheduler.export.letters import marked, printable
from scheduler.export.on_record import hold_said
from scheduler.export.page import BOLD, INVENTED, MARGIN, PAPER, SANS, style
from scheduler.export.page_addresses import hold_link
from scheduler.export.paper_facts import PaperFacts, joined
from scheduler.network.kind import Kind
from scheduler.plan import PlanHold
from scheduler.situation.work_states import SPOILT
from scheduler.spoken import Language, day_and_time, in_words, moment, spoken_in, unread
from scheduler.trench.cautions import CAUTIONS

Words = tuple[str, str, str]
"""Two lines to shout, and what they say in Spanish, the second language of many crews."""

COVER: Words = ("DO NOT", "COVER", "NO TAPAR")
LAY: Words = ("LAY", "NOTHING", "NO COLOCAR NADA")
SURFACE: Words = ("NO SURFACE", "YET", "NO TERMINAR LA SUPERFICIE")
ON: Words = ("GO NO", "FURTHER", "NO CONTINUAR")
WITNESS: Words = ("WAIT FOR", "WITNESS", "ESPERE AL TESTIGO")
QR_SIDE = 1.75 * inch
QR_LEVEL = "q"
"""A quarter of the code may be covered with mud and it still reads (ISO/IEC 18004, level Q)."""
EDGE = 14.0
"""From the frame to what stands in it [points]."""


def words_for(facts: PaperFacts, hold: PlanHold) -> Words:
    """Return what a hold point's tag shouts."""
    if hold.kind == "witness":
        return WITNESS
    waiting = {facts.work[g].kind for g in hold.gates if g in facts.work}
    if any(kind.buries for kind in waiting):
        return COVER
    if any(kind.places for kind in waiting):
        return LAY
    return SURFACE if Kind.RESTORE in waiting else ON


def standing(facts: PaperFacts, first: date, last: date) -> list[PlanHold]:
    """Return the hold points whose tag hangs on any of these days, by planned release.

    A tag hangs from the day its reach is dug to the day of its planned release; where nothing is
    dug, on the day of its release. By the record it hangs until it is released, however late, and no longer.
    """
    zone = facts.plan.data_date.tzinfo
    begin = datetime.combine(first, time(), zone)
    end = datetime.combine(last + timedelta(days=1), time(), zone)
    shown = []
    for hold in facts.plan.holds:
        release = hold.planned_release or facts.plan.data_date
        point = facts.point(hold.id)
        if point is not None and point.clear:
            continue
        release = max(release, facts.now or release)
        opened = min(facts.opened(hold) or release, release)
        if opened < end and release >= begin:
            shown.append((release, hold.id, hold))
    return [hold for *_, hold in sorted(shown, key=lambda s: s[:2])]


def hold_tags(
    facts: PaperFacts, holds: Iterable[PlanHold], paper: str = "letter", base: str = "", language: Language = "en"
) -> bytes:
    """Return a PDF with a page for each hold point; one page that says so when there is none.

    `base` is the address of the dashboard for the QR code; without it the tag says which hold point it is. In another
    language, names and what people wrote stay as they are.
    """
    with spoken_in(language):
        return _pages(facts, list(holds), paper, base, language)


def _pages(facts: PaperFacts, chosen: list[PlanHold], paper: str, base: str, language: Language) -> bytes:
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=PAPER[paper], invariant=1, lang="en-US" if language == "en" else language)
    canvas.setTitle(printable(f"Hold tags: {facts.plan.site.name}"))
    for hold in chosen:
        _tag(canvas, facts, hold, paper, base)
        canvas.showPage()
    if not chosen:
        canvas.setFont(BOLD, 16)
        canvas.drawString(MARGIN, PAPER[paper][1] - 2 * MARGIN, in_words("No hold point stands in these days."))
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _tag(canvas: Canvas, facts: PaperFacts, hold: PlanHold, paper: str, base: str) -> None:
    width, height = PAPER[paper]
    canvas.setLineWidth(5)
    canvas.rect(MARGIN, MARGIN, width - 2 * MARGIN, height - 2 * MARGIN)
    left, wide = MARGIN + EDGE, width - 2 * (MARGIN + EDGE)
    _hole(canvas, width / 2, height - MARGIN - 20)
    top = _shout(canvas, words_for(facts, hold), width / 2, height - MARGIN - 38, wide)
    bottom = _foot(canvas, facts, left, MARGIN + 10, wide)
    bottom = _boxes(canvas, left, bottom + 6, wide)
    _body(canvas, facts, hold, (left, bottom + 8, wide, top - bottom - 14), base)


def _hole(canvas: Canvas, x: float, y: float) -> None:
    """Draw where to punch the hole for the tie."""
    canvas.setLineWidth(1)
    canvas.setDash(2, 2)
    canvas.circle(x, y, 9)
    canvas.setDash()


def _shout(canvas: Canvas, words: Words, centre: float, top: float, wide: float) -> float:
    """Draw the large words between black bars, with the same in Spanish under them; return where they end.

    Black on white: a band of black would cost more ink than all the rest, and runs when it is wet.
    """
    *large, second = words
    size = min(wide * 0.96 / stringWidth(line, BOLD, 1) for line in large)
    size = min(size, 118)
    bar, tall = 12.0, size * 0.95 * len(large) + size * 0.16
    canvas.rect(centre - wide / 2, top - bar, wide, bar, fill=1, stroke=0)
    canvas.setFont(BOLD, size)
    for number, line in enumerate(large, 1):
        canvas.drawCentredString(centre, top - bar - number * size * 0.93, line)
    bottom = top - 2 * bar - tall
    canvas.rect(centre - wide / 2, bottom, wide, bar, fill=1, stroke=0)
    canvas.setFont(BOLD, 26)
    canvas.drawCentredString(centre, bottom - 29, second)
    return bottom - 38


def _foot(canvas: Canvas, facts: PaperFacts, left: float, bottom: float, wide: float) -> float:
    """Draw the cautions at the foot; return where they begin."""
    lines = [f"{in_words('This tag releases nothing; the person named does.')} {CAUTIONS[0]} {CAUTIONS[4]}"]
    lines += [unread()] if unread() else []
    lines += [f"{facts.record}."] if facts.record else []
    lines += [INVENTED] if facts.site.site.invented else []
    for words in reversed(lines):
        text = Paragraph(marked(words), style(8, bold=words == INVENTED))
        _, tall = text.wrap(wide, 200)
        text.drawOn(canvas, left, bottom)
        bottom += tall + 1
    return bottom


def _boxes(canvas: Canvas, left: float, bottom: float, wide: float) -> float:
    """Draw the boxes to write in, two by two; return where they begin."""
    tall = 46.0
    canvas.setLineWidth(1.2)
    boxes = (in_words("Released by (name)"), in_words("Signature"), in_words("Date"), in_words("Time"))
    for number, label in enumerate(boxes):
        row, column = divmod(number, 2)
        x, y = left + column * wide / 2, bottom + (1 - row) * tall
        canvas.rect(x, y, wide / 2, tall)
        canvas.setFont(SANS, 9)
        canvas.drawString(x + 4, y + tall - 11, label)
    return bottom + 2 * tall


def _body(
    canvas: Canvas, facts: PaperFacts, hold: PlanHold, room: tuple[float, float, float, float], base: str
) -> None:
    """Draw where it is and what it is about, the QR code beside it; smaller when there is much to say."""
    left, bottom, wide, tall = room
    link = hold_link(base, facts.plan, hold.id)
    beside = QR_SIDE + 14 if link else 0.0
    place = facts.hold_place(hold) or in_words("Whole site")
    head = _within(
        canvas, [Paragraph(marked(place), style(27, bold=True, after=4))], left, bottom + tall, wide, tall / 3
    )
    _within(canvas, _said(facts, hold), left, head, wide - beside, head - bottom)
    if link:
        _code(canvas, link, left + wide - QR_SIDE, head - QR_SIDE - 4)


def _said(facts: PaperFacts, hold: PlanHold) -> list[Flowable]:
    lines = facts.hold_lines(hold)
    waiting = [facts.work[g].name for g in hold.gates if g in facts.work]
    if hold.kind == "witness":
        rule = in_words("Work goes on when the witness has seen it, or once the time agreed with them has passed.")
    else:
        rule = in_words("Work goes on only when the person named has signed below.")
    failed = _spoilt(facts, hold)
    said: list[tuple[str, str]] = [
        (in_words("WITNESS POINT") if hold.kind == "witness" else in_words("HOLD POINT"), facts.hold_name(hold)),
        (in_words("Lines"), joined(lines)),
        (in_words("Layer"), _layer(facts, hold)),
        (in_words("By the record"), "" if failed else hold_said(facts, hold.id)),
        (in_words("Looked for"), facts.criteria(hold)),
        (in_words("Released by"), facts.releases(hold)),
        (in_words("Waits for it"), "; ".join(waiting)),
        (in_words("Planned"), _planned(facts, hold)),
        (in_words("Site"), facts.plan.site.name),
        (in_words("Tag"), hold.id),
    ]
    flow: list[Flowable] = [Paragraph(marked(failed), style(15, bold=True, after=6))] if failed else []
    flow.append(Paragraph(rule, style(13, bold=True, after=6)))
    return flow + [Paragraph(f"<b>{label}:</b> {marked(text)}", style(12, after=3)) for label, text in said if text]


def _spoilt(facts: PaperFacts, hold: PlanHold) -> str:
    """Say, to be printed large, that a look failed, or that what was passed or released is not good any more."""
    point = facts.point(hold.id)
    if point is None or point.status not in SPOILT:
        return ""
    said = hold_said(facts, hold.id)
    return f"{said[0].upper()}{said[1:]}. It is looked at again before anybody releases it."


def _layer(facts: PaperFacts, hold: PlanHold) -> str:
    """Say which layer it is about, the lowest being the first, and how far that is by the record."""
    if facts.situation is None:
        return ""
    known = facts.network_hold(hold)
    layer = known.layer if known else None
    said = [] if layer is None else [str(layer + 1)]
    for stretch in facts.situation.stretches:
        if stretch.reach in hold.reaches and stretch.layer in (layer, None):
            said.append(f"{stretch.recorded.value} by the record")
    return ", ".join(dict.fromkeys(said))


def _planned(facts: PaperFacts, hold: PlanHold) -> str:
    if hold.planned_release is None:
        return ""
    release = facts.local(hold.planned_release)
    return f"{day_and_time(release)}, by the plan of {moment(facts.plan.data_date)}"


def _within(canvas: Canvas, flow: Sequence[Flowable], left: float, top: float, wide: float, tall: float) -> float:
    """Draw flowing text under a height, shrunk if it would not fit; return where it ends."""
    frame = KeepInFrame(wide, tall, [*flow], mode="shrink")
    _, used = frame.wrapOn(canvas, wide, tall)
    frame.drawOn(canvas, left, top - used)
    return top - used


def _code(canvas: Canvas, link: str, left: float, bottom: float) -> None:
    """Draw the QR code of a link, and what it is for."""
    rows = list(segno.make_qr(link, error=QR_LEVEL).matrix_iter(border=0))
    side = QR_SIDE / len(rows)
    dark = canvas.beginPath()
    for y, row in enumerate(reversed(rows)):
        for x, module in enumerate(row):
            if module:
                dark.rect(left + x * side, bottom + y * side, side, side)
    canvas.drawPath(dark, fill=1, stroke=0)
    canvas.setFont(BOLD, 9)
    canvas.drawCentredString(left + QR_SIDE / 2, bottom - 12, in_words("Scan: how it stands now"))
