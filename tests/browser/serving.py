"""The real dashboard served as a user starts it, and the system's browser to look at it with."""

from __future__ import annotations

import ctypes
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome")
SWITCHES = ("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync", "--no-first-run")
SERVER_UP_S = 180.0
ROOT = Path(__file__).parents[2]
PID = "server.pid"
"""The file in the server's folder that names its process group."""
LIBC = ctypes.CDLL(None, use_errno=True) if sys.platform == "linux" else None
PR_SET_PDEATHSIG = 1
"""The request of Linux's prctl(2) that names the signal a process gets when its parent dies."""


def find_chromium() -> str | None:
    """Return the path of the system's browser, if there is one."""
    return os.environ.get("CHROMIUM") or next((p for p in map(shutil.which, NAMES) if p), None)


def end_with_parent() -> None:
    """Have this process told to end when its parent dies, also when that is killed; to be called in a new process.

    Does nothing where there is no prctl(2), which only Linux has.
    """
    if LIBC is not None:
        LIBC.prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


def with_kept_plans() -> dict[str, str]:
    """Return what has a server show the plans of bundled sites that are kept for this run instead of making its own."""
    first = (Path(__file__).with_name("with_kept_plans"), ROOT, os.environ.get("PYTHONPATH", ""))
    return {"PYTHONPATH": os.pathsep.join(str(place) for place in first if place)}


@contextmanager
def serve(folder: Path, *words: str, journal: str = "", own_plans: bool = False) -> Iterator[str]:
    """Start `jointtrench app` with its journals and its log in a folder; give its address, and end it after use.

    `journal` names a database for the journals instead. With `own_plans` the server plans as it does for a user, also
    what was planned in this run before.
    Raises RuntimeError with the server's log when it does not come up.
    """
    with socket.socket() as probe:
        probe.bind(("localhost", 0))
        port = probe.getsockname()[1]
    command = [str(Path(sys.executable).with_name("jointtrench")), "app", *words, "--port", str(port), "--no-browser"]
    log = folder / "server.log"
    kept = {"JOINTTRENCH_JOURNAL": journal or str(folder / "journals"), "JOINTTRENCH_HOME": str(folder / "home")}
    environment = {**os.environ, **kept, **({} if own_plans else with_kept_plans())}
    (folder / "journals").mkdir(exist_ok=True)
    with log.open("w") as out:
        server = subprocess.Popen(
            command,
            stdout=out,
            stderr=subprocess.STDOUT,
            start_new_session=True,
            env=environment,
            preexec_fn=end_with_parent,
        )
    (folder / PID).write_text(str(server.pid))
    base = f"http://localhost:{port}"
    try:
        _await(base, server, log)
        yield base
    finally:
        os.killpg(server.pid, signal.SIGTERM)
        server.wait(timeout=20)


def _await(base: str, server: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + SERVER_UP_S
    while time.monotonic() < end and server.poll() is None:
        try:
            with urllib.request.urlopen(f"{base}/_stcore/health", timeout=2):
                return
        except OSError:
            time.sleep(0.1)
    raise RuntimeError(f"The server did not come up:\n{log.read_text()}")
