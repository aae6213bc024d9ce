"""The reading of a page for people of other sites finds them, and finds nothing where all is as it should be."""

from __future__ import annotations

from pathlib import Path

import scheduler
from scheduler import bundled_sites
from tests.benchmarks.page_stream import OwnNames
from tests.benchmarks.served_load import family_name, write_site


def test_people_of_other_sites_and_another_who_is_here_are_found():
    names = OwnNames("Ruth Amsel Lanefolk", "general_contractor", ("Streetfolk",))
    names.read(b"\x12\x08Also here now: Ben Ito Lanefolk")
    names.read_line("**Ruth Amsel Lanefolk, general contractor**")
    names.read_line("**Next two hours, as planned**")
    assert (names.messages, names.named, names.mixed) == (1, 1, [])
    names.read(b"\x12\x08To be released by Quentin Banks Streetfolk")
    names.read_line("**Ben Ito Lanefolk, inspector**")
    assert names.mixed == [
        "Ruth Amsel Lanefolk was sent Streetfolk",
        "Ruth Amsel Lanefolk was told to be Ben Ito Lanefolk",
    ]


def test_a_site_of_the_benchmark_is_a_job_of_its_own_whose_people_bear_its_name(tmp_path: Path):
    source = bundled_sites()["orchard-lane"]
    site = scheduler.load(write_site(tmp_path, "lane1", source, 20)).site
    assert site.site.job_id == f"{scheduler.load(source).site.site.job_id}-lane1"
    assert len([p for p in site.people if p.role != "customer"]) == 20
    assert all(p.name.endswith(f" {family_name('lane1')}") for p in site.people)
