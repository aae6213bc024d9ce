"""Hold tags: words for what waits, who releases, and a code that a phone reads back to the hold point's page."""

from __future__ import annotations

from datetime import timedelta
from functools import cache
from urllib.parse import parse_qs, urlsplit

import pytest
import zxingcpp
from PIL import ImageDraw

from scheduler.errors import BadInput
from scheduler.export.page_addresses import checked_base, hold_link
from scheduler.export.tags import hold_tags, standing, words_for
from tests.papers import facts_of, photograph, planned, read_pdf, renamed, squeezed
from tests.pictures import SITES, bundled

BASE = "https://trench.example"


@cache
def tags(name: str, paper: str = "letter") -> bytes:
    facts = facts_of(name)
    return hold_tags(facts, facts.plan.holds, paper, BASE)


@pytest.mark.parametrize("name", SITES)
def test_each_hold_point_has_a_page_that_says_what_a_walker_by_must_know(name):
    facts = facts_of(name)
    pdf = read_pdf(tags(name))
    assert len(pdf.pages) == len(facts.plan.holds)
    assert pdf.outside == []
    people = {p.id: p.name for p in facts.site.people}
    for hold, page in zip(facts.plan.holds, pdf.pages, strict=True):
        said = squeezed(page)
        must = [*words_for(facts, hold), facts.hold_place(hold) or "Whole site", *facts.hold_lines(hold)]
        must += [facts.criteria(hold), people[hold.released_by], hold.id, facts.plan.site.name]
        must += ["Released by (name)", "Signature", "Date", "Time", "Trenches kill.", "This tag releases nothing"]
        assert [m for m in must if squeezed(m) not in said] == []


@pytest.mark.parametrize(
    ("kinds", "shouted"),
    [({"shade"}, "DO NOT COVER"), ({"lay"}, "LAY NOTHING"), ({"restore surface"}, "NO SURFACE YET")],
)
def test_the_words_fit_what_waits(kinds, shouted):
    facts = facts_of("lantern-street")
    fitting = [h for h in facts.plan.holds if {facts.work[g].kind for g in h.gates} == kinds]
    assert fitting
    assert {" ".join(words_for(facts, h)[:2]) for h in fitting} == {shouted}


def test_a_witness_point_asks_to_wait_for_the_witness_only():
    facts = facts_of("orchard-lane")
    hold = facts.plan.holds[0].model_copy(update={"kind": "witness"})
    (page,) = read_pdf(hold_tags(facts, [hold])).pages
    assert page.startswith("WAIT FOR WITNESS ESPERE AL TESTIGO")
    assert "once the time agreed with them has passed" in page
    assert "only when the person named" not in page


@pytest.mark.known
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_code_is_read_back_to_the_hold_points_page(paper):
    # Read by ZXing, which shares nothing with what drew it (ISO/IEC 18004).
    facts = facts_of("orchard-lane")
    for number, hold in enumerate(facts.plan.holds[:4]):
        (code,) = zxingcpp.read_barcodes(photograph(tags("orchard-lane", paper), number))
        assert code.format == zxingcpp.BarcodeFormat.QRCode
        link = urlsplit(code.text)
        assert (link.scheme, link.netloc, link.path) == ("https", "trench.example", "/inspections")
        assert parse_qs(link.query) == {"site": ["orchard-lane"], "stake": [hold.id]}
        assert code.text == hold_link(BASE, facts.plan, hold.id)


@pytest.mark.known
def test_a_code_with_mud_on_it_is_still_read():
    # ISO/IEC 18004, table of error correction: level Q recovers about a quarter of the code words.
    facts = facts_of("orchard-lane")
    image = photograph(tags("orchard-lane"))
    (code,) = zxingcpp.read_barcodes(image)
    corner, side = code.position.top_left, code.position.bottom_right.x - code.position.top_left.x
    spot = 0.30 * side
    x, y = corner.x + 0.45 * side, corner.y + 0.45 * side
    ImageDraw.Draw(image).rectangle((x, y, x + spot, y + spot), fill="white")
    (muddy,) = zxingcpp.read_barcodes(image)
    assert muddy.text == hold_link(BASE, facts.plan, facts.plan.holds[0].id)
    ImageDraw.Draw(image).rectangle((x - spot, y - spot, x + spot, y + spot), fill="white")
    assert zxingcpp.read_barcodes(image) == []


def test_without_an_address_there_is_no_code():
    facts = facts_of("orchard-lane")
    content = hold_tags(facts, facts.plan.holds[:1])
    assert zxingcpp.read_barcodes(photograph(content)) == []
    assert "Scan" not in read_pdf(content).text
    assert facts.plan.holds[0].id in read_pdf(content).text


def test_the_letters_of_the_words_are_an_inch_tall_or_more():
    image = photograph(tags("orchard-lane"), scale=1.0).convert("L")
    run = tallest = 0
    for y in range(image.height // 2):
        darkest, _ = image.crop((60, y, image.width - 60, y + 1)).getextrema()
        run = run + 1 if darkest < 100 else 0
        tallest = max(tallest, run)
    assert tallest / 72 * 25.4 >= 25  # millimetres


def test_long_names_shrink_and_nothing_is_cut_off():
    site = renamed(bundled("orchard-lane")[0], lambda name: f"{name} {'very long words ' * 12}".strip()[:200])
    facts = planned(site)
    pdf = read_pdf(hold_tags(facts, facts.plan.holds, "a4", BASE))
    assert len(pdf.pages) == len(facts.plan.holds)
    assert pdf.outside == []
    for hold, page in zip(facts.plan.holds, pdf.pages, strict=True):
        assert squeezed(facts.hold_place(hold) or "Whole site") in squeezed(page)
        assert squeezed(facts.releases(hold)) in squeezed(page)
        assert hold.id in page


def test_tags_hang_from_the_dig_to_the_release():
    facts = facts_of("orchard-lane")
    for hold in facts.plan.holds:
        opened, release = facts.opened(hold), hold.planned_release
        first = min(opened or release, release).date()
        for on, hangs in (
            (first - timedelta(days=1), False),
            (first, True),
            (release.date(), True),
            (release.date() + timedelta(days=1), False),
        ):
            assert (hold in standing(facts, on, on)) == hangs


def test_when_nothing_stands_there_is_one_page_that_says_so():
    facts = facts_of("orchard-lane")
    after = facts.plan.finish.date() + timedelta(days=30)
    assert standing(facts, after, after + timedelta(days=20)) == []
    assert read_pdf(hold_tags(facts, [])).pages == ["No hold point stands in these days."]


@pytest.mark.parametrize(
    "link",
    [
        "ftp://x.example", "trench.example", "http://", "https://x.example/?a=b", "https://x.example/#a",
        "javascript:alert(1)", "https://x.example/\nb", "https://x example", "https://" + "x" * 200 + ".example",
        "http://[::1", "http://x:99999",
    ],
)  # fmt: skip
def test_an_address_that_is_none_is_refused(link):
    with pytest.raises(BadInput, match=r"such as https://trench\.example"):
        checked_base(link)


@pytest.mark.parametrize(
    ("link", "kept"),
    [("", ""), ("https://x.example/", "https://x.example"), ("http://192.0.2.7:8501/jt", "http://192.0.2.7:8501/jt")],
)
def test_an_address_is_kept_without_its_last_slash(link, kept):
    assert checked_base(link) == kept


@pytest.mark.parametrize("name", SITES)
def test_a_tag_in_spanish_says_the_same_and_that_nobody_has_read_it(name: str) -> None:
    facts = facts_of(name)
    holds = facts.plan.holds[:3]
    english, spanish = (read_pdf(hold_tags(facts, holds, language=language)) for language in ("en", "es"))
    assert spanish.outside == []
    for hold, ours, theirs in zip(holds, english.pages, spanish.pages, strict=True):
        for words in ("Lo libera:", "Firma", "Esta etiqueta no libera nada", "sin revisar", "PUNTO DE"):
            assert squeezed(words) in squeezed(theirs), words
            assert squeezed(words) not in squeezed(ours), words
        for words in (*words_for(facts, hold), hold.id, facts.plan.site.name):
            assert squeezed(words) in squeezed(theirs), words
