"""Pages follow the record: an entry made elsewhere changes the answer by itself, and a record that is gone is a No."""

from __future__ import annotations

import os
import re
import signal
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

import scheduler
from app.components.fresh import AGO, LAST, LOST, STALE_S, STYLE
from scheduler.ledger.events import InspectionFailed
from scheduler.ledger.ground_events import CoverReported
from scheduler.ledger.writing import write_down
from tests.browser.conftest import SCREENSHOTS
from tests.browser.dashboard import PATHS, Dashboard
from tests.browser.serving import PID, serve
from tests.browser.test_editor import view
from tests.browser.test_live import JOB, SMALL, be, clean, clear_for_cover, journal, opened, press

__all__ = ["journal"]
WITHIN_S = 5.0
COVER = {"cover-at": "pole-hedge"}
UNREADABLE = "No. The record cannot be read: do not cover anything."
NOT_KNOWN = "Covered before its release: not known."
NO_YES = "() => !document.querySelector('[data-testid=stMain]').innerText.includes('Yes.')"
GREY = "() => getComputedStyle(document.querySelector('.st-key-cover-answer')).filter === 'grayscale(1)'"
SHOWN = "() => getComputedStyle(document.querySelector('.page-words')).visibility === 'visible'"


@pytest.fixture
def cleared(journal: Path) -> Path:
    """Return the journal of the small site, by which one reach may be covered."""
    clear_for_cover(journal, scheduler.load(SMALL))
    return journal


def write_elsewhere(path: Path, event) -> None:
    """Write an event down as another program on another machine does, at the time of the last entry."""
    case = scheduler.load(SMALL)
    with closing(opened(path)) as record:
        last = record.entries()[-1]
        write_down(record, case.site, case.network, event, at=last.at, by="Carol Dunn")


def test_a_yes_becomes_a_no_within_five_seconds_of_a_failure_written_elsewhere(visit, cleared):
    desk = visit()
    desk.open("Visits and holds", **COVER).planned()
    desk.reads("Yes. Nothing on record stands against covering Pole branch 0+00 to 0+28")
    desk.reads("by the record up to entry 11, head 11:")
    desk.photograph("answer-yes-1440-light")
    hold = next(h for h in scheduler.load(SMALL).network.holds if h.id.startswith("hold/conduit-look/pole-hedge"))
    when = scheduler.load(SMALL).network.clock.when(96 * 3)
    failed = InspectionFailed(looks=(hold.look,), inspector="c-dunn", when=when, faults="A joint is dry.")
    write_elsewhere(cleared, failed)
    written = time.monotonic()
    desk.reads("No. Do not cover Pole branch 0+00 to 0+28")
    assert time.monotonic() - written <= WITHIN_S
    desk.reads("by the record up to entry 12, head 12:")
    clean(desk)


def _remove(path: Path) -> None:
    path.unlink()


def _damage(path: Path) -> None:
    path.write_bytes(b"this is no database, and was never one" * 50)


def _replace(path: Path) -> None:
    path.unlink()
    with closing(opened(path)) as other:
        case = scheduler.load(SMALL)
        report = CoverReported(alignment="pole-branch", from_ft=0, to_ft=28, when=case.network.clock.when(40))
        write_down(other, case.site, case.network, report, at=case.network.clock.when(48), by="somebody")


@pytest.mark.parametrize(
    ("change", "why", "on"),
    [
        (_remove, "which this page has shown", tuple(PATHS)),
        (_damage, "is no journal that can be used", ("Today", "Record")),
        (_replace, "gone or another", ("Schedule", "Trench")),
    ],
)
def test_a_record_that_goes_away_under_the_page_is_a_no_on_every_page(visit, cleared, change, why, on):
    kept = cleared.read_bytes()
    phone = visit(width=390 if change is _damage else 1440)
    phone.open("Visits and holds", **COVER).planned()
    phone.reads("Yes. Nothing on record stands against covering")
    change(cleared)
    changed = time.monotonic()
    phone.page.wait_for_function(NO_YES)
    assert time.monotonic() - changed <= WITHIN_S
    phone.reads(UNREADABLE)
    for page in on:
        phone.go(page)
        phone.reads(UNREADABLE)
        said = phone.text()
        assert why in said, page
        assert NOT_KNOWN in said, page
        assert "Will finish" not in said, page
        assert "Would finish" not in said, page
        assert "Yes." not in said, page
        clean(phone)
    phone.photograph(f"record-{change.__name__.strip('_')}")
    phone.page.get_by_text("Show a plan made from the site file alone").click()
    phone.settled()
    phone.reads(UNREADABLE)
    phone.photograph(f"record-{change.__name__.strip('_')}-without")
    for file in cleared.parent.glob(f"{cleared.name}*"):
        file.unlink()
    cleared.write_bytes(kept)
    phone.page.get_by_text(UNREADABLE).first.wait_for(state="detached")


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, int]]:
    """Start a server that may be stopped, by whose record one reach may be covered; return its address and process."""
    folder = tmp_path_factory.mktemp("alone")
    with serve(folder, str(SMALL), own_plans=True) as base:
        clear_for_cover(folder / "journals" / f"{JOB}.journal.db", scheduler.load(SMALL))
        yield base, int((folder / PID).read_text())


@contextmanager
def standing_still(alone: tuple[str, int], pages, width: int, pictures: Path | None = None) -> Iterator[Dashboard]:
    """Give a page that says Yes, its server stopped; afterwards the server goes on and the page is no longer grey."""
    base, server = alone
    board = Dashboard(pages.lend(width=width, scheme="light"), base, pictures)
    board.open("Visits and holds", **COVER).planned()
    board.reads("Yes. Nothing on record stands against covering")
    os.killpg(server, signal.SIGSTOP)
    try:
        assert not board.page.evaluate(GREY)
        yield board
    finally:
        os.killpg(server, signal.SIGCONT)
    board.page.wait_for_function(f"() => !({GREY})()")
    board.leave()
    pages.take_back(board.page)


def test_an_answer_turns_grey_when_the_server_says_nothing_more(alone, pages, request):
    pictures = SCREENSHOTS if request.config.getoption("--photographs") else None
    with standing_still(alone, pages, 390, pictures) as board:
        board.page.wait_for_function(GREY, timeout=2000 * STALE_S)
        board.page.wait_for_function(SHOWN)
        said = board.page.locator(".page-words").inner_text()
        assert LOST.format(seconds=STALE_S).strip() in said
        assert re.search(r"Last heard of at \d\d?:\d\d:\d\d", said), "how old the page is"
        board.photograph("answer-grey-390-light")


def test_a_machine_that_wakes_up_shows_no_old_yes(alone, pages):
    """Nothing on the page moved while it slept; only the clock did, and the server is not heard of yet."""
    with standing_still(alone, pages, 1440) as board:
        board.page.evaluate("() => document.getAnimations().forEach(a => a.pause())")
        board.page.evaluate("() => { const then = Date.now; Date.now = () => then() + 3600000; }")
        board.page.evaluate("() => window.dispatchEvent(new Event('focus'))")
        assert board.page.evaluate(GREY)
        assert board.page.evaluate(SHOWN)


def test_an_uploaded_site_keeps_its_record_when_it_is_edited_planned_and_loaded_again(dashboard, tmp_path):
    job = "practice-an-upload"
    text = SMALL.read_text(encoding="utf-8").replace(f"job_id: {JOB}", f"job_id: {job}")
    file = tmp_path / "my street.yaml"
    file.write_text(text, encoding="utf-8")
    dashboard.open("Record")
    dashboard.upload(file)
    dashboard.page.wait_for_url(f"**site={job}*")
    dashboard.planned()
    be(dashboard, "Ruth Amsel")
    dashboard.pick("What happened?", "A note or a photo")
    dashboard.page.get_by_label("Words").fill("Fair weather.")
    press(dashboard, "Write it down")
    dashboard.reads("Written down (entry 1).")
    dashboard.page.get_by_test_id("stHeader").get_by_role("link", name="Site editor").click()
    view(dashboard, "Save and plan")
    dashboard.page.get_by_role("button", name="Plan this site").click()
    dashboard.reads("No plan is in force yet")
    for _ in range(2):
        dashboard.go("Record")
        dashboard.reads("1 entry, the newest first.")
        dashboard.page.reload()
        dashboard.shown()
        dashboard.reads("1 entry, the newest first.")
    clean(dashboard)


def test_a_page_left_open_says_how_old_it_is(browser):
    page = browser.new_page()
    page.clock.install()
    page.set_content(STYLE.format(name="page", turn="a", seconds=STALE_S, words="Old. ", last=LAST, ago=AGO))
    page.clock.run_for(5000)
    assert page.locator("html[data-stale-page]").count() == 0
    page.clock.run_for(600_000)
    assert page.locator("html[data-stale-page]").count() == 1
    assert re.search(r"Old. Last heard of at \d\d:\d\d:\d\d, 10 min ago\.", page.locator(".page-words").inner_text())
    page.close()
