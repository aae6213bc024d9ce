"""How long a user waits at the dashboard: from opening it to a solved plan, and from page to page.

    python -m tests.benchmarks.pages [--rounds 5] [--reaches 60]

Each site is served by a server of its own, started fresh, and opened in the system's Chromium as soon as it
answers. With `--reaches` a generated site of so many is measured instead of the bundled ones. Wanted: a solved plan
within 6 s (small) and 15 s (street), a page switch within 0.5 s (median); of 60 reaches within 1 s; on a phone that
has never been here, once a plan exists, the trench from above within 2 s and the answer at a tag within 2.5 s.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from playwright.sync_api import sync_playwright

from scheduler import bundled_sites, load
from scheduler.site.save import written_anew
from tests.benchmarks.site_generator import make_site
from tests.browser import in_page
from tests.browser.dashboard import LOOK_MS, PATHS, PATIENCE_MS, Dashboard
from tests.browser.serving import SWITCHES, find_chromium, serve

WANTED_OPEN_S = {"orchard-lane": 6.0, "lantern-street": 15.0}
WANTED_SWITCH_S, WANTED_LONG_SWITCH_S = 0.5, 1.0
WANTED_PICTURE_S, WANTED_ANSWER_S = 2.0, 2.5
STEADY_LOOKS = 6
WAITING = "Finding the best sequence"
"""The title of a page that waits for its plan; it looks for it every 0.5 s."""
PICTURE, ANSWER = "svg.from-above", ".st-key-stake-answer h1"


def from_a_phone(browser: Any, address: str, seen: str) -> tuple[float, float]:
    """Return how long a phone waits until a thing is seen at an address, the first time it is there and the next.

    The page itself looks for it every 0.05 s; a locator's wait looks every 0.5 s only.
    """
    context = browser.new_context(viewport={"width": 390, "height": 844})
    waits = []
    for _ in range(2):
        page = context.new_page()
        began = time.monotonic()
        page.goto(address)
        page.wait_for_function(in_page.IS_SEEN, arg=seen, polling=LOOK_MS, timeout=PATIENCE_MS)
        waits.append(time.monotonic() - began)
        page.close()
    context.close()
    return waits[0], waits[1]


def tell(what: str, waits: list[tuple[float, float]], wanted: float) -> None:
    """Print the middle and the longest wait of phones that were never here, and of those that were."""
    new, known = ([w[n] for w in waits] for n in (0, 1))
    print(
        f"  {what:<20} new phone: median {statistics.median(new):.2f} s, longest {max(new):.2f} s; "
        f"known phone: median {statistics.median(known):.2f} s, longest {max(known):.2f} s (wanted {wanted:g})"
    )


def measure(browser: Any, name: str, site: Path, rounds: int) -> None:
    """Print the waits at one site."""
    with tempfile.TemporaryDirectory() as folder, serve(Path(folder), str(site), own_plans=True) as address:
        page = browser.new_context(viewport={"width": 1440, "height": 900}).new_page()
        dashboard = Dashboard(page, address, Path(folder))
        began = time.monotonic()
        page.goto(address)
        page.get_by_text(WAITING).wait_for(timeout=PATIENCE_MS)
        page.get_by_text(WAITING).wait_for(state="detached", timeout=PATIENCE_MS)
        there = time.monotonic()
        page.wait_for_function(in_page.IS_SEEN, arg=PICTURE, polling=LOOK_MS, timeout=PATIENCE_MS)
        drawn = time.monotonic() - there
        dashboard.reads("Would finish")
        opened = time.monotonic() - began
        for _ in range(STEADY_LOOKS):  # a page that is being drawn anew says nothing for a moment
            dashboard.planned()
            page.wait_for_timeout(500)
        whole = time.monotonic() - began
        switches = {n: [] for n in PATHS if n != "Site editor"}
        for _ in range(rounds):
            for target, seconds in switches.items():
                seconds.append(dashboard.go(target))
        holds = [h.id for h in load(site).network.holds]
        tags = [f"{address}/inspections?{urlencode({'stake': h})}" for h in holds[:: max(1, len(holds) // rounds)]]
        pictures = [from_a_phone(browser, address, PICTURE) for _ in range(rounds)]
        answers = [from_a_phone(browser, tag, ANSWER) for tag in tags]
    everything = [s for seconds in switches.values() for s in seconds[1:]]
    wanted = f" (wanted {WANTED_OPEN_S[name]:g})" if name in WANTED_OPEN_S else ""
    print(f"{name}: solved plan on screen {opened:.1f} s{wanted}, all aims {whole:.1f} s")
    switch = WANTED_SWITCH_S if name in WANTED_OPEN_S else WANTED_LONG_SWITCH_S
    for target, seconds in switches.items():
        print(f"  {target:<20} first {seconds[0]:.2f} s, then median {statistics.median(seconds[1:]):.2f} s")
    print(f"  on the page that waited for the plan the picture came {drawn:.2f} s later (wanted {WANTED_PICTURE_S:g})")
    tell("first picture", pictures, WANTED_PICTURE_S)
    tell("answer at a tag", answers, WANTED_ANSWER_S)
    print(f"  all switches         median {statistics.median(everything):.2f} s (wanted {switch:g})")


def main() -> None:
    """Measure every bundled site, or a generated one."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=5, help="how often each page is gone to")
    parser.add_argument("--reaches", type=int, default=0, help="of a generated site; 0: the bundled sites")
    asked = parser.parse_args()
    rounds = max(2, asked.rounds)
    with sync_playwright() as playwright, tempfile.TemporaryDirectory() as folder:
        browser = playwright.chromium.launch(executable_path=find_chromium(), args=list(SWITCHES))
        sites = bundled_sites()
        if asked.reaches:
            made = Path(folder) / f"generated-{asked.reaches}.yaml"
            data = make_site(asked.reaches, 0).model_dump(mode="json", exclude_defaults=True)
            made.write_text(written_anew(data, ""), encoding="utf-8")
            sites = {made.stem: made}
        for name, site in sites.items():
            measure(browser, name, site, rounds)
        browser.close()


if __name__ == "__main__":
    main()
