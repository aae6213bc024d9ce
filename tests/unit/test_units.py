"""Amounts with their units: read in any of them, shown as they were written with the other unit beside."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from pydantic import ValidationError

from scheduler.trench.layout_check import check_layout
from scheduler.units import UNITS, format_amount, in_units_of, length_unit, parse_amount, parse_station
from tests.trenches import line, trench


@pytest.mark.parametrize(
    ("text", "unit", "amount"),
    [
        ("36", "in", 36.0),
        (".5", "in", 0.5),
        ("900 mm", "in", 35.4331),
        ("90cm", "in", 35.4331),
        ("0.9 m", "in", 35.4331),
        ("3 ft", "in", 36.0),
        ('30"', "in", 30.0),
        ("6'", "ft", 6.0),
        ("24 inches", "ft", 2.0),
        ("20 mil", "in", 0.02),
        ("1034 kPa", "psi", 149.969),
        ("10.34 bar", "psi", 149.969),
        ("30 min", "h", 0.5),
        ("2.2 kN", "lb", 494.58),
        ("90°", "degrees", 90.0),
        ("24 x", "times", 24.0),
        ("95 %", "%", 95.0),
    ],
)
def test_an_amount_is_read_in_the_unit_that_is_asked_for(text, unit, amount):
    assert parse_amount(text, unit) == pytest.approx(amount, rel=1e-5)


@pytest.mark.parametrize(
    ("text", "unit"),
    [("deep", "in"), ("", "in"), ("900 kPa", "in"), ("3 in", ""), ("36 cubits", "in"), ("in 36", "in"), ("--3", "in")],
)
def test_what_is_no_such_amount_is_refused(text, unit):
    with pytest.raises(ValueError, match="expected"):
        parse_amount(text, unit)


def test_an_amount_is_shown_as_it_was_written_with_the_other_unit_beside():
    assert format_amount(parse_amount("900 mm", "in"), "in", like="900 mm") == "900 mm (35.4 in)"
    assert format_amount(20.0, "in", like="900 mm") == "508 mm (20 in)"
    assert format_amount(parse_amount("7.5 m", "ft"), "ft", like="7.5 m") == "7.5 m (24.6 ft)"
    assert format_amount(36.0, "in", like="3 ft") == "3 ft (36 in)"
    assert format_amount(150.0, "psi", like="1034 kPa") == "1034.2 kPa (150 psi)"
    assert format_amount(35.43307, "in") == "35.4 in"
    assert format_amount(-0.01, "in") == "0 in"


def test_every_unit_goes_there_and_back():
    for unit, (what, _) in UNITS.items():
        for other, (measured, _) in UNITS.items():
            if what == measured:
                there = parse_amount(f"7 {unit}", other)
                assert parse_amount(f"{there!r} {other}", unit) == pytest.approx(7.0)


def test_a_site_may_be_written_in_metres_and_means_the_same():
    box = {"id": "b", "kind": "pull_box", "name": "Box", "alignment": "main", "lines": ["p"]}
    feet = trench(
        line("p", "power", "pvc40", 2, cover_in=10, offset_in=-8),
        structures=[box | {"station": 50, "size_in": [17, 30]}],
        limits={"open_trench_ft": 200},
    )
    metres = trench(
        line("p", "power", "pvc40", "50.8 mm", cover_in="254 mm", offset_in="-20.32 cm"),
        alignments=[{"id": "main", "name": "Main trench", "length_ft": "30.48 m"}],
        structures=[box | {"station": "15.24 m", "size_in": ["431.8 mm", "0.762 m"]}],
        limits={"open_trench_ft": "60.96 m"},
    )
    assert [str(f) for f in check_layout(metres)] == [str(f) for f in check_layout(feet)] != []
    assert metres.structures[0].size_in == pytest.approx(feet.structures[0].size_in)
    assert metres.limits.open_trench_ft == pytest.approx(200.0)


@pytest.mark.parametrize("amount", ["600 kPa", "600 cubits", "deep", "-600 mm", "0 mm", "1e400 mm"])
def test_an_amount_that_is_no_such_length_is_refused_at_its_field(amount):
    with pytest.raises(ValidationError) as caught:
        trench(line("p", "power", "pvc40", 2, cover_in=amount))
    assert [e["loc"] for e in caught.value.errors()] == [("lines", 0, "cover_in")]


def test_a_rate_is_no_length():
    with pytest.raises(ValidationError):
        trench(line("p", "power", "pvc40", 2, feet_per_hour="10 m"))


def test_a_station_may_be_written_in_metres():
    assert parse_station("48.8 m") == pytest.approx(160.105, abs=0.001)
    assert parse_station("160 ft") == 160.0
    with pytest.raises(ValueError, match="station"):
        parse_station("160 kPa")


@pytest.mark.parametrize("given", [{"value": "900 mm"}, {"value": 90, "unit": "cm"}, {"value": "35.433071"}])
def test_a_value_of_the_site_file_may_have_a_unit_of_its_own(given):
    own = [{"rule": "cover-power", "source": "the utility's letter"} | given]
    (found,) = check_layout(trench(line("p", "power", "pvc40", 2, cover_in=30), rules=own))
    written = str(given["value"]) if "unit" not in given else "90 cm"
    assert found.required == ("at least 35.4 in" if given["value"] == "35.433071" else f"at least {written} (35.4 in)")


def test_a_value_of_the_site_file_in_another_kind_of_unit_is_told():
    own = [{"rule": "cover-power", "value": "900 kPa", "source": "the utility's letter"}]
    (found,) = check_layout(trench(line("p", "power", "pvc40", 2, cover_in=30), rules=own))
    assert (found.rule, found.where) == ("local-rule", "rules[1]")
    assert "measures something else; its own is in" in found.text
    with pytest.raises(ValidationError):
        trench(rules=[{"rule": "cover-power", "value": "deep", "source": "x"}])


def test_what_yields_tells_its_lengths_in_the_units_of_the_job_in_a_thread_too():
    @in_units_of(lambda units: units)
    def steps(units):
        for _ in range(2):
            yield length_unit()

    with ThreadPoolExecutor(1) as pool:
        assert pool.submit(lambda: [(unit, length_unit()) for unit in steps("metres")]).result() == [("m", "ft")] * 2
