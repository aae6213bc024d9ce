"""For tests of papers and calendars: quick, audited plans of the bundled sites, and PDFs as a reader sees them."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import pypdfium2
from PIL import Image

from scheduler.assembly import plan_of
from scheduler.audit import audit
from scheduler.cells import plain
from scheduler.export.paper_facts import PaperFacts
from scheduler.network.derive import derive
from scheduler.plan import SiteRef
from scheduler.site.site_record import Site
from scheduler.solve.first_plan.generate import generate
from scheduler.solve.outcome import Outcome, Status
from tests.pictures import bundled


@cache
def facts_of(name: str) -> PaperFacts:
    """Return a bundled site with a quick plan of it."""
    return planned(bundled(name)[0], f"{name}.yaml")


def planned(site: Site, file: str = "orchard-lane.yaml") -> PaperFacts:
    """Return a site with a quick plan of it; the plan is audited."""
    network = derive(site)
    schedule = generate(network, budget_seconds=0.05)
    assert schedule is not None
    assert audit(network, schedule) == []
    reference = SiteRef(name=site.site.name, file=file, time_zone=site.site.time_zone)
    outcome = Outcome(Status.FEASIBLE, schedule, finish_bound=network.data_date)
    return PaperFacts(plan_of(network, outcome, site=reference), site, network)


def renamed(site: Site, new: Callable[[str], str]) -> Site:
    """Return a site with every name that a user can choose made another."""
    parts = ("alignments", "trades", "people", "lines", "inspections", "structures", "outside_work")
    changed = {p: [r.model_copy(update={"name": new(r.name)}) for r in getattr(site, p)] for p in parts}
    changed["inspections"] = [i.model_copy(update={"authority": new(i.authority)}) for i in changed["inspections"]]
    changed["outside_work"] = [w.model_copy(update={"by": new(w.by)}) for w in changed["outside_work"]]
    job = site.site.model_copy(update={"name": new(site.site.name)})
    return site.model_copy(update={**changed, "site": job})


@dataclass(frozen=True)
class Pdf:
    """A PDF as another program reads it."""

    pages: list[str]
    """The words of each page, on one line."""
    sizes: list[tuple[float, float]]
    """Points."""
    outside: list[str]
    """Letters that stand nearer than 0.4 in to an edge of their page, each with its page."""

    @property
    def text(self) -> str:
        """All words."""
        return " ".join(self.pages)


def read_pdf(content: bytes) -> Pdf:
    """Read a PDF with PDFium, which shares nothing with what wrote it."""
    document = pypdfium2.PdfDocument(content)
    pages, sizes, outside = [], [], []
    for number, page in enumerate(document, 1):
        words = page.get_textpage()
        width, height = page.get_size()
        pages.append(" ".join(words.get_text_range().split()))
        sizes.append((width, height))
        for n in range(words.count_chars()):
            left, bottom, right, top = words.get_charbox(n)
            inside = left >= 28 and right <= width - 28 and bottom >= 28 and top <= height - 28
            if right > left and not inside:
                outside.append(f"page {number}: {words.get_text_range(n, 1)!r}")
    return Pdf(pages, sizes, outside)


def photograph(content: bytes, page: int = 0, scale: float = 2.0) -> Image.Image:
    """Return a page as it prints, `scale` times 72 dots an inch."""
    return pypdfium2.PdfDocument(content)[page].render(scale=scale).to_pil().convert("RGB")


def squeezed(text: str) -> str:
    """Return text without blanks and hyphens, for comparing what was broken into lines."""
    return "".join(text.split()).replace("-", "").replace("\u00ad", "").replace("\ufffe", "").replace("\x02", "")


def read_table(text: str) -> list[dict[str, str]]:
    """Return the rows of a table that the program wrote, by the names of their columns."""
    head, *rows = csv.reader(io.StringIO(text, newline=""))
    return [dict(zip(map(plain, head), map(plain, row), strict=True)) for row in rows]
