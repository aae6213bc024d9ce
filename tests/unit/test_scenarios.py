"""The bundled sites and the generated ones: whole, marked as invented, and what they are meant to show."""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path
from random import Random
from typing import get_args

import pytest

import scenarios
from scheduler.network.derive import derive
from scheduler.site.files import judge, load_site
from scheduler.site.site_record import Site
from scheduler.trench.layout_check import check_layout
from scheduler.trench.section import sections
from tests.benchmarks.site_generator import make_site, random_small_site
from tests.benchmarks.site_parties import PACES, Bottleneck

FOLDER = Path(scenarios.__file__).parent
BUNDLED = {"orchard-lane": range(120, 161), "lantern-street": range(480, 601)}
"""Each bundled site with the count of activities it should derive to."""


@pytest.fixture(scope="module", params=BUNDLED)
def bundled(request: pytest.FixtureRequest) -> tuple[str, Site]:
    return request.param, load_site(FOLDER / f"{request.param}.yaml")


def _site(name: str) -> Site:
    return load_site(FOLDER / f"{name}.yaml")


def test_every_bundled_site_is_listed_here() -> None:
    assert {p.stem for p in FOLDER.glob("*.yaml")} == set(BUNDLED)


def test_bundled_sites_say_that_they_are_invented_and_what_to_beware_of(bundled: tuple[str, Site]) -> None:
    name, site = bundled
    header = (FOLDER / f"{name}.yaml").read_text(encoding="utf-8").split("\n\nsite:")[0]
    assert all(line.startswith("#") for line in header.splitlines())
    for caution in (
        "INVENTED DATA",
        "Trenches kill",
        "competent person",
        "authority having jurisdiction",
        "utility's own standard",
        "licensed",
        "Local codes",
    ):
        assert caution in header
    assert site.site.invented


def test_bundled_sites_keep_every_layout_rule(bundled: tuple[str, Site]) -> None:
    assert [str(f) for f in check_layout(bundled[1])] == []


def test_bundled_sites_derive_to_the_size_they_are_meant_to_have(bundled: tuple[str, Site]) -> None:
    name, site = bundled
    assert len(derive(site).activities) in BUNDLED[name]


def test_names_in_bundled_sites_read_like_a_job(bundled: tuple[str, Site]) -> None:
    _, site = bundled
    groups = (site.people, site.calendars, site.alignments, site.lines, site.structures, site.trades)
    named = [r for g in (*groups, site.equipment, site.inspections, site.outside_work) for r in g]
    for record in named:
        assert re.match(r"[A-Z][a-z]+", record.name), record.name
        assert not re.search(r"\b[A-Z]+-?\d", record.name), record.name
    for person in site.people:
        assert re.fullmatch(r"555-01\d\d", person.phone), "only numbers set aside for invented people"


def test_releases_in_bundled_sites_have_a_person_and_a_deputy(bundled: tuple[str, Site]) -> None:
    _, site = bundled
    deputies = {p.deputy_of for p in site.people}
    assert {i.released_by for i in site.inspections} <= {p.id for p in site.people}
    assert len({i.released_by for i in site.inspections} & deputies) >= 2
    assert all(keep.released_by for keep in site.keep_open)


def test_small_site_shows_what_a_customer_owned_service_needs() -> None:
    site = _site("orchard-lane")
    service = next(line for line in site.lines if line.use == "service" and line.kind == "power")
    assert service.owner == "customer"
    assert sum(abs(s.to - s.from_) for s in service.route) >= 160
    assert {b.radius_in for b in service.bends} == {24}
    boxes = [s for s in site.structures if s.kind == "pull_box" and service.id in s.lines]
    assert [b.size_in for b in boxes] == [(17, 30)]
    (loose,) = site.keep_open
    assert loose.to - loose.from_ == 6
    assert next(w for w in site.outside_work if w.id == loose.until).kind == "tie_in"
    hydrant = next(s for s in site.structures if s.kind == "hydrant")
    assert hydrant.gravel_pocket
    assert any(line.stub for line in site.lines if line.kind == "water")


def test_small_site_shows_who_must_be_waited_for() -> None:
    site = _site("orchard-lane")
    assert len(site.alignments) == 3
    assert 7 <= len(site.reaches) <= 10
    assert sum(r.access is not None for r in site.reaches) == 1
    assert len({(i.authority, i.calendar) for i in site.inspections}) == 2
    weeks = {c.id: c.weekly for c in site.calendars}
    assert all(weeks[w.calendar][0].startswith("mon-thu") for w in site.outside_work if w.by == "Sorrel Valley Power")
    assert sum(e.count for e in site.equipment if e.kind == "excavator") == 1
    assert {b.firm for b in site.bookings} == {True, False}
    assert site.existing
    kinds = [w.kind for w in site.outside_work]
    assert {"set_pole", "tie_in", "set_meter", "energise", "cutover", "remove"} <= set(kinds)
    assert [w.kind for w in site.outside_work if w.outage] == ["cutover"]


def test_street_has_three_layers_and_two_pipe_crews() -> None:
    site = _site("lantern-street")
    assert {"power", "communications", "water", "sewer", "gas"} == {line.kind for line in site.lines}
    assert 8 <= sum(a.leaves is not None for a in site.alignments) <= 12
    assert {len(s.layers) for s in sections(site).values()} == {3}
    pipe = {line.trade for line in site.lines if line.kind in ("sewer", "water")}
    assert [t.crews for t in site.trades if t.id in pipe] == [2]
    stages = {i.stage for i in site.inspections}
    assert stages == {"open_trench", "lines_laid", "shaded", "pressure_test", "compaction", "final"}
    assert "asphalt" in {r.surface for r in site.reaches}


def _faults(site: Site) -> tuple[object, ...]:
    """Return what reading the site as a file would complain of."""
    return judge(site.model_dump(mode="json", by_alias=True, exclude_defaults=True))[1]


@pytest.mark.parametrize(("reaches", "bottleneck"), list(product((3, 17, 60), get_args(Bottleneck))))
def test_generated_sites_hang_together(reaches: int, bottleneck: Bottleneck) -> None:
    for seed in range(2):
        site = make_site(reaches, seed, bottleneck)
        assert len(site.reaches) == reaches
        assert _faults(site) == ()


def test_the_largest_generated_site_hangs_together() -> None:
    assert _faults(make_site(500, 1)) == ()


def test_a_generated_site_depends_on_its_arguments_alone() -> None:
    again = [make_site(12, 4, "trade") for _ in range(2)]
    assert again[0] == again[1]
    assert make_site(12, 5, "trade") != again[0]
    assert make_site(12, 4, "labour") != again[0]


@pytest.mark.parametrize("reaches", [2, 501])
def test_a_generated_site_has_3_to_500_reaches(reaches: int) -> None:
    with pytest.raises(ValueError, match=f"expected 3 to 500 reaches, found {reaches}"):
        make_site(reaches, 0)


def test_small_random_sites_hang_together_and_vary_in_every_feature() -> None:
    sites = [random_small_site(Random(seed)) for seed in range(80)]
    for site in sites:
        assert 2 <= len(site.reaches) <= 6
        assert _faults(site) == ()
    features = {
        "branch": lambda s: len(s.alignments) > 1,
        "drive": lambda s: any(r.access for r in s.reaches),
        "marked line": lambda s: s.existing,
        "gas": lambda s: any(line.kind == "gas" for line in s.lines),
        "groundwater": lambda s: any(r.groundwater for r in s.reaches),
        "cure": lambda s: any(line.joint_cure_hours for line in s.lines),
        "stub": lambda s: any(line.stub for line in s.lines),
        "conductors": lambda s: any(line.conductors for line in s.lines),
        "offered times": lambda s: any(w.offered for w in s.outside_work),
        "work by a trade": lambda s: any(w.trade for w in s.outside_work),
        "helper machines": lambda s: len(s.equipment) > 2,
        "witness point": lambda s: any(i.hold == "witness" for i in s.inspections),
        "booked visit": lambda s: any(b.of == "laid" for b in s.bookings),
        "test": lambda s: any(line.test for line in s.lines),
        "loose stretch": lambda s: s.keep_open,
        "booking": lambda s: s.bookings,
        "firm booking": lambda s: any(b.firm for b in s.bookings),
        "rain": lambda s: s.limits.rain_days,
        "reaches open": lambda s: s.limits.reaches_open,
        "two tickets": lambda s: len(s.locate_tickets) > 1,
        "compaction": lambda s: s.backfill.compaction_test,
    }
    for stage in ("open_trench", "shaded", "pressure_test", "compaction", "final"):
        features[stage] = lambda s, stage=stage: any(i.stage == stage for i in s.inspections)
    for name, present in features.items():
        shares = [bool(present(site)) for site in sites]
        assert 0 < sum(shares) < len(sites), name
    assert {site.site.name.rsplit(" ", 1)[1] for site in sites} == set(PACES)
