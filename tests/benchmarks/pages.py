"""How long a user waits at the dashboard: from opening it to a solved plan, and from page to page.

    python -m tests.benchmarks.pages [--rounds 5]

Each site is served by a server of its own, started fresh, and opened in the system's Chromium as soon as it
answers. Wanted: a solved plan within 6 s (small) and 15 s (street), a page switch within 0.5 s (median).
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

from scheduler import bundled_sites
from tests.browser.dashboard import PATHS, Dashboard
from tests.browser.serving import SWITCHES, find_chromium, serve

WANTED_OPEN_S = {"orchard-lane": 6.0, "lantern-street": 15.0}
WANTED_SWITCH_S = 0.5


def measure(browser: Any, name: str, site: Path, rounds: int) -> None:
    """Print the waits at one site."""
    with tempfile.TemporaryDirectory() as folder, serve(Path(folder), str(site)) as address:
        page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
        dashboard = Dashboard(page, address, Path(folder))
        began = time.monotonic()
        page.goto(address)
        dashboard.reads("Would finish")
        opened = time.monotonic() - began
        dashboard.planned()
        whole = time.monotonic() - began
        switches = {n: [] for n in PATHS if n != "Site editor"}
        for _ in range(rounds):
            for target, seconds in switches.items():
                seconds.append(dashboard.go(target))
    everything = [s for seconds in switches.values() for s in seconds[1:]]
    print(f"{name}: solved plan on screen {opened:.1f} s (wanted {WANTED_OPEN_S[name]:g}), all aims {whole:.1f} s")
    for target, seconds in switches.items():
        print(f"  {target:<20} first {seconds[0]:.2f} s, then median {statistics.median(seconds[1:]):.2f} s")
    print(f"  all switches         median {statistics.median(everything):.2f} s (wanted {WANTED_SWITCH_S:g})")


def main() -> None:
    """Measure every bundled site."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=5, help="how often each page is gone to")
    rounds = max(2, parser.parse_args().rounds)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_chromium(), args=list(SWITCHES))
        for name, site in bundled_sites().items():
            measure(browser, name, site, rounds)
        browser.close()


if __name__ == "__main__":
    main()
