"""Several jobs on one server in real browsers: two links on one phone, a copy, and a job that is archived meanwhile."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from scheduler import bundled_sites
from tests.browser.served_phones import Phone, ServedSite, serve_to_phones

pytestmark = pytest.mark.benchmark
LANE = bundled_sites()["orchard-lane"]
NAME = "Orchard Lane workshop"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ServedSite]:
    text = LANE.read_text(encoding="utf-8")
    assert NAME in text
    row = tmp_path_factory.mktemp("row") / "row.yaml"
    row.write_text(re.sub(r"job_id: \S+", "job_id: practice-pear-row", text.replace(NAME, "Pear Row barn")), "utf-8")
    with serve_to_phones(tmp_path_factory.mktemp("firm"), {"lane": LANE, "row": row}) as served:
        yield served


def jobs_of(phone: Phone, site: ServedSite) -> str:
    """Open the page of all jobs, and return what it says."""
    phone.page.goto(f"{site.address}/jobs")
    phone.board.shown()
    return phone.board.text()


def test_a_contractor_goes_from_job_to_job_archives_one_and_begins_another(site, phone):
    contractor, trade = phone(), phone()
    contractor.sign_in(site.link("lane", "r-amsel", "general_contractor"))
    contractor.sign_in(site.link("row", "r-amsel", "general_contractor"))
    said = jobs_of(contractor, site)
    assert f"{NAME}, new underground services" in said
    assert "Pear Row barn" in said
    trade.sign_in(site.link("row", "m-ruiz", "trade"))
    said = jobs_of(trade, site)
    assert "Pear Row barn" in said
    assert NAME not in said
    assert "Archive" not in said
    trade.page.goto(f"{site.address}/record")
    trade.board.shown()

    jobs_of(contractor, site)
    contractor.page.get_by_role("link", name="Go to it: Orchard Lane workshop").click()
    contractor.page.wait_for_url(re.compile("site=lane"))
    contractor.board.reads(re.compile(NAME))
    jobs_of(contractor, site)
    row = contractor.page.locator(".st-key-job-row")
    row.get_by_role("button", name="Archive").click()
    contractor.page.get_by_role("button", name="Archive this job").click()
    contractor.page.get_by_role("heading", name="Archived").wait_for()
    trade.page.get_by_role("heading", name="This job is archived").wait_for()
    assert not trade.page.get_by_role("button", name="Take it back").count()
    link = site.link("row", "c-dunn", "inspector")[0]
    late = phone()
    late.page.goto(link)
    assert "This job is archived" in late.page.inner_text("body")

    contractor.page.get_by_role("button", name="Take it back").click()
    contractor.page.get_by_role("link", name=re.compile("Go to it: Pear Row")).wait_for()
    trade.page.reload()
    trade.board.reads(re.compile("Record"))

    contractor.board.unfold("Copy one as a start")
    contractor.page.get_by_label("Name of the new job").fill("Plum Court 3")
    contractor.page.get_by_role("button", name="Begin the copy").click()
    contractor.page.get_by_text("Plum Court 3 is begun").wait_for()
    contractor.page.locator(".st-key-job-begun").get_by_role("link", name="Go to it: Plum Court 3").click()
    contractor.page.wait_for_url(f"{site.address}/code")
    contractor.choose_code()
    contractor.board.reads(re.compile("Plum Court 3"))
    assert Path(site.folder / "sites" / "plum-court-3.yaml").is_file()
    assert "Plum Court" not in jobs_of(trade, site)
    assert contractor.board.faults == trade.board.faults == []


def test_the_link_of_another_person_opens_nothing_of_who_was_there_before(site, phone):
    tablet = phone(width=800)
    tablet.sign_in(site.link("lane", "r-amsel", "general_contractor"))
    tablet.sign_in(site.link("row", "m-ruiz", "trade"))
    said = jobs_of(tablet, site)
    assert "Pear Row barn" in said
    assert NAME not in said
    tablet.page.goto(f"{site.address}/jobs?site=lane")
    tablet.board.reads("which is not here")
