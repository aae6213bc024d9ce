"""`python -m tests.mutation`: the share of faults that the tests find, and the faults that they do not."""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from tests.mutation.equivalent import EQUIVALENT
from tests.mutation.modules import MODULES
from tests.mutation.mutants import Mutant, mutants_of
from tests.mutation.trials import Reached, Trial, found, load_libraries, reached

MOST_SECONDS = 20.0
"""Of tests for one fault; the slowest are left out beyond."""
ENOUGH_TIMES = 4.0
"""By how much a trial may take longer than its tests did without a fault."""


def main(words: Sequence[str] | None = None) -> int:
    """Measure some modules and print their scores and survivors; 1 when a score is below what is asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"of {', '.join(MODULES)}; all when left out")
    parser.add_argument("--file", help="only source files whose path contains this")
    parser.add_argument("--share", type=float, default=1.0, help="of all faults, drawn at random (0 to 1)")
    parser.add_argument("--seed", type=int, default=1, help="of that draw")
    parser.add_argument("--workers", type=int, default=2, help="faults tried at once")
    parser.add_argument("--least", type=float, default=85.0, help="lowest score that is good enough [%%]")
    asked = parser.parse_args(words)
    unknown = set(asked.names) - set(MODULES)
    if unknown:
        parser.error(f"no such name: {', '.join(sorted(unknown))}")
    load_libraries()
    with tempfile.TemporaryDirectory() as folder:  # forks end without clearing up what tests keep
        os.environ["PYTEST_DEBUG_TEMPROOT"] = folder
        scores = [_measured(name, asked) for name in asked.names or MODULES]
    return int(any(score < asked.least for score in scores))


def _measured(name: str, asked: argparse.Namespace) -> float:
    began = time.perf_counter()
    parts, tests = MODULES[name]
    paths = [p for part in parts for p in _sources(Path(part)) if asked.file is None or asked.file in str(p)]
    known = reached(tests, [str(p) for p in paths])
    ready = time.perf_counter()
    drawn = [m for p in paths for m in mutants_of(p, share=asked.share, seed=asked.seed)]
    same = [m for m in drawn if (m.path, m.before, m.after) in EQUIVALENT]
    rest = [m for m in drawn if m not in same]
    if asked.share >= 1.0:
        there = {(m.path, m.before, m.after) for m in same}
        for path, before, after in EQUIVALENT:
            if path in known.by_line and (path, before, after) not in there:
                print(f"  no such fault any more, take it out of equivalent.py: {path}: {before}  ->  {after}")
    alive = sorted(_survivors(rest, known, asked.workers), key=lambda m: (m.path, m.line))
    score = 100.0 * (1 - len(alive) / len(rest)) if rest else 100.0
    for path in map(str, paths):
        of = [m for m in rest if m.path == path]
        left = [m for m in alive if m.path == path]
        print(f"  {path}: {len(of) - len(left)} of {len(of)}")
        for mutant in left:
            print(f"    survived  {mutant}")
    now = time.perf_counter()
    print(
        f"{name}: {score:.1f} % of {len(rest)} faults found, {len(same)} without effect left out; "
        f"{ready - began:.0f} s for the tests without a fault, {now - ready:.0f} s for the faults"
    )
    print(flush=True)
    return score


def _sources(part: Path) -> list[Path]:
    return sorted(part.rglob("*.py")) if part.is_dir() else [part]


def _survivors(mutants: Sequence[Mutant], known: Reached, workers: int) -> list[Mutant]:
    """Return the faults that no test finds."""
    tests = [_tests_for(m, known) for m in mutants]
    tried = [(m, t) for m, t in zip(mutants, tests, strict=True) if t]
    trials = [
        Trial(str(m), m.path, m.source, tuple(t), ENOUGH_TIMES * sum(known.seconds[n] for n in t) + 2.0)
        for m, t in tried
    ]
    hit = found(trials, workers)
    alive = [m for (m, _), is_found in zip(tried, hit, strict=True) if not is_found]
    return [*alive, *(m for m, t in zip(mutants, tests, strict=True) if not t)]


def _tests_for(mutant: Mutant, known: Reached) -> list[str]:
    """Return the tests that may find a fault: those that run its line, then the others of their files.

    The others count since they may ask about what a fixture has made only once. A line that runs while
    modules are loaded is every test's.
    """
    by_line = known.by_line[mutant.path]
    lines = [n for n in mutant.lines if n in by_line]
    direct = set().union(*(by_line[n] for n in lines)) if lines else set()
    if "" in direct:
        direct = set(known.seconds)
    files = {t.partition("::")[0] for t in direct}
    beside = {t for t in known.seconds if t.partition("::")[0] in files} - direct
    chosen, spent = list[str](), 0.0
    for test in [*_quickest_first(direct, known), *_quickest_first(beside, known)]:
        if not chosen or spent + known.seconds[test] <= MOST_SECONDS:
            chosen.append(test)
            spent += known.seconds[test]
    return chosen


def _quickest_first(tests: set[str], known: Reached) -> list[str]:
    return sorted(tests, key=lambda t: (known.seconds[t], t))


if __name__ == "__main__":
    raise SystemExit(main())
