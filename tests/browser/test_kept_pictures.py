"""Every picture can be kept as a file: what is seen of it, in the colours that it has on the page."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PIL import Image
from playwright.sync_api import TimeoutError

from tests.browser.dashboard import LOST_MS
from tests.browser.test_live import clean

TAPS = 3
SVG = "{http://www.w3.org/2000/svg}"


def kept(dashboard, key: str, kind: str, folder: Path) -> Path:
    button = dashboard.page.locator(f".st-key-keep-{key}").get_by_role("button", name=f"Keep this picture as {kind}")
    for _ in range(TAPS):
        with suppress(TimeoutError), dashboard.page.expect_download(timeout=LOST_MS) as coming:
            button.click()  # lost where the page is drawn anew in that moment; people tap again
        if coming.is_done():
            saved = folder / coming.value.suggested_filename
            coming.value.save_as(saved)
            return saved
    raise AssertionError(f"no {kind} comes")


@pytest.mark.parametrize(
    ("page", "key", "words"),
    [("Schedule", "stations", {"0+00", "0+50"}), ("Today", "site-today", {"Main drive trench", "Pole branch"})],
)
def test_a_picture_is_kept_as_it_is_seen(visit, tmp_path: Path, page: str, key: str, words: set[str]):
    dashboard = visit(scheme="dark").open(page)
    dashboard.planned() if page == "Today" else dashboard.shown()
    if page == "Today":
        dashboard.page.get_by_text("Picture in words").click()
    svg = ElementTree.parse(kept(dashboard, key, "SVG", tmp_path)).getroot()
    assert {t.strip() for t in svg.itertext()} >= words
    assert any(part.get("style") for part in svg.iter(f"{SVG}path"))
    with Image.open(kept(dashboard, key, "PNG", tmp_path)) as png:
        assert png.format == "PNG"
        assert png.width > 1000, "sharp enough to be printed"
        colours = {colour: n for n, colour in png.convert("RGB").getcolors(1 << 24)}
    assert max(colours, key=colours.get) == (0x1B, 0x1E, 0x22), "on the ground of the page"
    assert len(colours) > 20
    clean(dashboard)
