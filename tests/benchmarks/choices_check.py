"""Plans to choose from on random sites: each audited, none beaten, none better at an aim than the one named for it.

python -m tests.benchmarks.choices_check --count 100
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator, Sequence
from random import Random

import scheduler
from scheduler import ChoiceAim, PlanChoice
from scheduler.solve.outcome import Options
from tests.benchmarks.site_generator import random_small_site

QUICK = Options(start_effort=0.2, finish_effort=0.3, exposure_effort=0.3, money_effort=0.1, conflict_effort=0.1)


def faults(found: Sequence[PlanChoice]) -> Iterator[str]:
    """Yield what is wrong with plans to choose from."""
    for choice in found:
        broken = scheduler.audit(choice.planned.case, choice.planned.plan)
        if choice.planned.broken or broken:
            yield f"{choice.name} breaks {[f.rule for f in broken]}"
        for other in found:
            if other.measures.beats(choice.measures):
                yield f"{other.name} beats {choice.name}"
    named = {aim: c.measures for c in found for aim in c.aims}
    if set(named) != set(ChoiceAim):
        yield f"no plan for {set(ChoiceAim) - set(named)}"
        return
    ranked = [c.measures for c in found]
    for aim, best in (
        (ChoiceAim.EARLIEST, named[ChoiceAim.EARLIEST].finish == min(m.finish for m in ranked)),
        (ChoiceAim.MONEY, named[ChoiceAim.MONEY].money == min(m.money for m in ranked)),
        (ChoiceAim.TRENCH, named[ChoiceAim.TRENCH].ft_nights == min(m.ft_nights for m in ranked)),
        (ChoiceAim.MARGIN, named[ChoiceAim.MARGIN].margin == max(m.margin for m in ranked)),
    ):
        if not best:
            yield f"another plan is better at {aim}"


def of_site(number: int) -> tuple[list[str], int]:
    """Return what is wrong with the plans to choose from of one random site, after every look, and their number."""
    case = scheduler.load(random_small_site(Random(number), 3))
    found: tuple[PlanChoice, ...] = ()
    wrong = []
    for found in scheduler.choices(case, QUICK):
        wrong += [f"site {number}: {text}" for text in faults(found)]
    return wrong, len(found)


def main(argv: Sequence[str] | None = None) -> int:
    """Look at so many sites; return 1 when anything is wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--from", dest="first", type=int, default=0)
    parser.add_argument("--count", type=int, default=100)
    arguments = parser.parse_args(argv)
    began, wrong, counts = time.monotonic(), 0, []
    for number in range(arguments.first, arguments.first + arguments.count):
        found, plans = of_site(number)
        wrong += len(found)
        counts.append(plans)
        for text in found:
            print(text, flush=True)
    several = sum(n > 1 for n in counts)
    print(f"{len(counts)} sites, {several} with several plans, {wrong} faults; {time.monotonic() - began:.0f} s")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
