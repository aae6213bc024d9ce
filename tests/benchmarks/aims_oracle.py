"""Tiny jobs by the hundred: each aim of a plan to choose, and the margin, against trying every combination of starts.

About a third of the jobs have a plan.

python -m tests.benchmarks.aims_oracle --seeds 600
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Sequence

from tests.aims import aims_differ, margin_differs

KINDS: dict[str, Callable[[int], list[str]]] = {"aims": aims_differ, "margin": margin_differs}


def main(argv: Sequence[str] | None = None) -> int:
    """Try so many jobs; return 1 when any aim is not what trying everything gives."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=600)
    parser.add_argument("--first", type=int, default=0)
    arguments = parser.parse_args(argv)
    wrong = 0
    for kind, differs in KINDS.items():
        began, tried = time.monotonic(), 0
        for seed in range(arguments.first, arguments.first + arguments.seeds):
            found = differs(seed)
            tried += found != ["no plan"]
            for text in (f for f in found if f != "no plan"):
                wrong += 1
                print(f"{kind}: {text}", flush=True)
        print(f"{kind}: {tried} of {arguments.seeds} jobs have a plan; {time.monotonic() - began:.0f} s", flush=True)
    print(f"{wrong} differences")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
