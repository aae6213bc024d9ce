"""Rates of work: each can be given in the site file, is told with its source, and is refused when it makes no sense."""

from __future__ import annotations

import pytest

from scheduler.network.derive import derive
from scheduler.site.files import read_site
from scheduler.site.work_rates import WorkRates, sentence_of, source_of
from scheduler.worktime.clock import Clock
from tests.small_site import SMALL_SITE, faults_in


def hours(work: int, clock: Clock) -> float:
    return work * clock.tick_minutes / 60


def with_rates(text: str) -> str:
    return SMALL_SITE + f"\nrates: {text}\n"


def test_every_rate_has_a_sentence_and_a_source() -> None:
    for name in WorkRates.model_fields:
        assert sentence_of(name).endswith("."), name
        assert source_of(name), name


def test_a_rate_of_the_site_file_makes_the_hours_and_is_the_source() -> None:
    before = derive(read_site(SMALL_SITE, file="a")).by_id["R1/bed"]
    network = derive(read_site(with_rates("{bed_cy_per_hour: 0.5}"), file="a"))
    bed = network.by_id["R1/bed"]
    assert before.source.endswith("rate common practice")
    assert bed.source.endswith("rate site file: rates, bed_cy_per_hour")
    assert abs(bed.work - 10 * before.work) <= 10
    others = [a for a in network.activities if a.id.endswith("/ribbon")]
    assert all(a.source.endswith("common practice") for a in others)


def test_laying_goes_by_the_trade_then_the_rate() -> None:
    net = derive(read_site(with_rates("{lay_power_ft_per_hour: 10, lay_communications_ft_per_hour: 10}"), file="a"))
    assert hours(net.by_id["R2/L1/lay-C1"].work, net.clock) == 6
    assert net.by_id["R2/L1/lay-C1"].source == "site file: rates, lay_communications_ft_per_hour"
    power = next(a for a in net.activities if a.id.startswith("R2/") and a.id.endswith("lay-P1"))
    assert (hours(power.work, net.clock), power.source) == (1.5, "site file: trades")


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("{bed_yards: 5}", "bed_yards"),
        ("{bed_cy_per_hour: 0}", "0"),
        ("{bed_cy_per_hour: -2}", "-2"),
        ("{cap_hours: soon}", "soon"),
        ("{each_further_conduit: 1.5}", "1.5"),
        ("{pull_ft_per_hour: 10000000}", "10000000"),
    ],
)
def test_an_unknown_or_impossible_rate_is_a_fault_at_its_line(text: str, found: str) -> None:
    (fault,) = faults_in(with_rates(text))
    assert fault.line == with_rates(text).rstrip().count("\n") + 1
    assert fault.where.startswith("rates")
    assert found in f"{fault.where} {fault.found} {fault.text}"
