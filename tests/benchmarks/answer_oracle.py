"""Compare the answer to 'may this be covered?' with an independent reading of the rules, on random histories.

    python -m tests.benchmarks.answer_oracle [HISTORIES] [FIRST SEED]

Prints how often both said what, every wrong Yes (there must be none) and every Yes that was withheld.
"""

from __future__ import annotations

import sys
import time
from collections import Counter

from scheduler.errors import BadInput
from scheduler.ledger.cover_answer import may_cover
from scheduler.ledger.covering import CoverGround
from scheduler.ledger.state import fold
from tests.histories import make
from tests.oracle.oracle import Oracle

Found = tuple[int, int, str, str, str]
"""Seed, number of the question, what the program said, what the oracle said, and the program's reasons."""


def compare(seed: int) -> list[Found]:
    """Return both answers to every question of a history."""
    history, questions = make(seed)
    out = []
    for n, q in enumerate(questions):
        ground = CoverGround(q.alignment, q.from_ft, q.to_ft, q.only_shading, q.layer)
        site, network = history.record.site, history.record.network
        try:
            said = may_cover(site, network, fold(history.record.entries, q.now), ground, q.moment, asked=q.now)
        except BadInput:
            continue
        right = Oracle(history.past, site, network, q).verdict()
        out.append((seed, n, said.verdict.value, right, " | ".join(r.text for r in said.reasons)))
    return out


def main() -> int:
    """Run the histories; 1 when the program said Yes where the oracle did not."""
    count, first = int((sys.argv[1:] or ["20000"])[0]), int((sys.argv[2:] or ["0"])[0])
    begun, pairs = time.monotonic(), Counter[tuple[str, str]]()
    wrong_yes, withheld, unlike = [], [], []
    for seed in range(first, first + count):
        for found in compare(seed):
            _, _, said, right, _ = found
            pairs[said, right] += 1
            if said != right:
                (wrong_yes if said == "Yes" else withheld if right == "Yes" else unlike).append(found)
    print(f"{count} histories, {sum(pairs.values())} questions, {time.monotonic() - begun:.0f} s")
    for (said, right), number in sorted(pairs.items()):
        print(f"  program {said:10} oracle {right:10} {number}")
    for name, rows in (("wrong Yes", wrong_yes), ("Yes withheld", withheld), ("No or Ask again unlike", unlike)):
        print(f"{name}: {len(rows)}")
        for seed, n, said, right, reasons in rows[:40]:
            print(f"  seed {seed} question {n}: program {said}, oracle {right}: {reasons[:300]}")
    return 1 if wrong_yes else 0


if __name__ == "__main__":
    sys.exit(main())
