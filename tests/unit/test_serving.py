"""The dashboard that browser tests serve ends with them, also when they are killed."""

from __future__ import annotations

import subprocess
import sys

import pytest

CHILD = "import time; print('up', flush=True); time.sleep(60)"
STARTER = f"""
import subprocess, sys, time
from tests.browser.serving import end_with_parent
subprocess.Popen([sys.executable, "-c", {CHILD!r}], start_new_session=True, preexec_fn=end_with_parent)
time.sleep(60)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells a process that its parent died")
def test_a_killed_parent_leaves_nothing_running():
    with subprocess.Popen([sys.executable, "-c", STARTER], stdout=subprocess.PIPE) as started:
        assert started.stdout is not None
        assert started.stdout.readline() == b"up\n"
        started.kill()
        # The end of the output comes when nobody holds it any more, the child included.
        started.communicate(timeout=20)
