"""The drills in small: writers killed, a server crashed, a full and a read-only disk, a file replaced, tampering.

The long ones are commands: see tests/benchmarks/ledger_drills.py and ledger_tampering.py.
"""

from __future__ import annotations

import os
import subprocess
from pathlib import Path
from random import Random

import pytest

from tests.benchmarks import ledger_drills
from tests.benchmarks.ledger_tampering import tampering

SERVER = bool(list(Path("/usr/lib/postgresql").glob("*/bin/initdb")))


@pytest.fixture(scope="module")
def may_mount() -> None:
    """Skip where no file system may be mounted, which takes root and more."""
    if os.getuid() != 0:
        pytest.skip("needs root")
    try:
        with ledger_drills.small_disk(400):
            pass
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("nothing may be mounted here")


def test_killed_writers_lose_nothing_acknowledged(tmp_path: Path) -> None:
    assert ledger_drills.kills(tmp_path, Random(3), count=12)


def test_a_file_replaced_in_use_is_told_truly(tmp_path: Path) -> None:
    assert ledger_drills.replaced(tmp_path, Random(3), count=4)


@pytest.mark.usefixtures("may_mount")
def test_a_full_disk_is_told_truly() -> None:
    assert ledger_drills.full(Random(3), count=1)


@pytest.mark.usefixtures("may_mount")
def test_a_read_only_disk_is_told_truly() -> None:
    assert ledger_drills.read_only(Random(3), count=1)


@pytest.mark.skipif(not SERVER, reason="no PostgreSQL server to crash")
def test_a_crashed_server_is_told_truly() -> None:
    assert ledger_drills.crashes(Random(3), count=2, writers=2, settle=2.0)


def test_what_is_spoiled_is_found_with_a_head_and_a_key(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JOINTTRENCH_HOME", str(tmp_path))
    assert tampering(tmp_path, cases=48, entries=8, seed=3)
