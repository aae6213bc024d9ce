"""More lines or conductors side by side than a trench holds are refused at their line, before they cost minutes."""

from __future__ import annotations

import time

import pytest

from scheduler.errors import BadInput
from scheduler.site.files import read_site
from scheduler.site.size_faults import MOST_LINES
from tests.small_site import FILE, SMALL_SITE

SITE = read_site(SMALL_SITE, file=FILE)
TRADE = SITE.lines[0].trade
CABLE = (
    "  - {{id: X{n}, name: Cable {n}, kind: communications, trade: {trade}, material: pvc40, size_in: 1, "
    "route: {route}}}\n"
)
AT = "[{{alignment: {alignment}, from: {begin}, to: {end}}}]"


def text(count: int, *, begin: float | None = None, end: float | None = None, more: str = "") -> str:
    """Return the small site with so many more lines, on the route of its first line unless said otherwise."""
    part = SITE.lines[0].route[0]
    begin, end = part.from_ if begin is None else begin, part.to if end is None else end
    route = AT.format(alignment=part.alignment, begin=begin, end=end)
    added = "".join(CABLE.format(n=n, trade=TRADE, route=route) for n in range(count))
    return SMALL_SITE.replace("\nlines:\n", "\nlines:\n" + added + more, 1)


def rules(site_text: str) -> list[tuple[str, int | None]]:
    try:
        read_site(site_text, file="x.yaml")
    except BadInput as bad:
        return [(f.rule, f.line) for f in bad.findings]
    return []


def test_a_thousand_lines_in_one_place_are_refused_at_the_first_that_is_too_many() -> None:
    before = time.process_time()
    found = rules(text(1000))
    assert [rule for rule, _ in found] == ["site.too-many"]
    assert time.process_time() - before < 20
    lines = text(1000).splitlines()
    assert found[0][1] is not None
    assert lines[found[0][1] - 1].lstrip().startswith("- {id: X")


def test_as_many_as_may_be_are_no_fault_of_size() -> None:
    there = len(SITE.lines)
    assert "site.too-many" not in {rule for rule, _ in rules(text(MOST_LINES - there))}
    assert "site.too-many" in {rule for rule, _ in rules(text(MOST_LINES + 1))}


def test_conductors_count_as_well() -> None:
    full = "conductors: [" + ", ".join(["{count: 200, size: '12'}"] * 16) + "]"
    spoiled = text(1).replace("route: [", full + ", route: [", 1)
    with pytest.raises(BadInput, match="conductors"):
        read_site(spoiled, file="x.yaml")
