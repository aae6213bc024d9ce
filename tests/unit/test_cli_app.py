"""The dashboard's server ends with the command that started it."""

from __future__ import annotations

import signal
import subprocess
import sys

import pytest

CHILD = "import time; print('up', flush=True); time.sleep(60)"
STARTER = f"""
import os, sys
from scheduler.cli.commands import run_on
sys.exit(run_on([sys.executable, "-c", {CHILD!r}], dict(os.environ)))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGTERM to pass on")
def test_a_terminated_command_ends_what_it_started():
    with subprocess.Popen([sys.executable, "-c", STARTER], stdout=subprocess.PIPE) as started:
        assert started.stdout is not None
        assert started.stdout.readline() == b"up\n"
        started.send_signal(signal.SIGTERM)
        # The end of the output comes when nobody holds it any more, the child included.
        started.communicate(timeout=20)
    assert started.returncode != 0
