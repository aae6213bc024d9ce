"""How long the smallest conflicts and their ways out take on the impossible variants of the bundled sites.

    python -m tests.benchmarks.conflict_times

Wanted: 5 s a variant of the small site, 20 s a variant of the street.
"""

from __future__ import annotations

import time

from scheduler.explain.conflicts import conflicts
from scheduler.explain.repairs import repairs
from tests.unit.test_explain_conflicts import SMALL, VARIANTS, site

WANTED_S = {SMALL: 5.0}
WANTED_STREET_S = 20.0


def main() -> None:
    """Time every variant, conflicts and repairs together."""
    kept = 0
    print(f"{'wall s':>7} {'wanted':>7} {'conflicts':>9} {'repairs':>7}  variant")
    for name, (site_name, spoil, _) in VARIANTS.items():
        network, wanted = spoil(site(site_name)), WANTED_S.get(site_name, WANTED_STREET_S)
        began = time.perf_counter()
        found = conflicts(network)
        ways = repairs(network, found)
        seconds = time.perf_counter() - began
        kept += seconds <= wanted
        print(f"{seconds:7.1f} {wanted:7.0f} {len(found):9} {sum(map(len, ways)):7}  {name}", flush=True)
    print(f"{kept} of {len(VARIANTS)} within the time wanted")


if __name__ == "__main__":
    main()
