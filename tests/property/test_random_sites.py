"""A small slice of the random sites: plans audit clean, damage is caught, and the command says what it did."""

from __future__ import annotations

import pytest

from tests.benchmarks import random_sites

pytestmark = pytest.mark.property


def test_a_slice_of_the_random_sites_is_clean_and_tells_its_figures(capsys: pytest.CaptureFixture[str]) -> None:
    assert random_sites.main(["--from", "0", "--count", "12"]) == 0
    said = capsys.readouterr().out
    assert "12 clean, 0 with faults" in said
    assert " 0  site step not awaited" not in said


def test_a_run_that_is_out_of_time_says_where_to_go_on(capsys: pytest.CaptureFixture[str]) -> None:
    assert random_sites.main(["--from", "7", "--count", "5", "--seconds", "0"]) == 0
    assert "go on with --from 7 --count 5" in capsys.readouterr().out


def test_a_damage_that_the_audit_does_not_name_is_told_with_the_number_of_its_site(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(random_sites, "audit", lambda network, schedule: [])
    assert random_sites.main(["--from", "3", "--count", "1"]) == 1
    said = capsys.readouterr().out
    assert "site 3: activity_shortened of work/" in said
    assert "0 clean, 1 with faults" in said
