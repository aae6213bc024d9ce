"""The bundled sites planned with the work that every site has beside the trench: time, finish, bound, what changed.

    python -m tests.benchmarks.fuller_sites

Wanted: 10 s for the small site, 30 s for the street, by the clock on two idle cores, and the finish proved.
"""

from __future__ import annotations

import time
from collections import Counter

import scheduler
from scheduler import Planned, bundled_sites
from scheduler.site.files import load_site
from scheduler.site.site_work import SiteWork

WANTED_S = {"orchard-lane": 10.0, "lantern-street": 30.0}


def timed(name: str, *, fuller: bool) -> tuple[Planned, float, float]:
    """Plan a bundled site with or without site work; return the plan, seconds by the clock and of processor."""
    site = load_site(bundled_sites()[name])
    began, cpu = time.perf_counter(), time.process_time()
    planned = scheduler.plan(scheduler.load(site.model_copy(update={"site_work": SiteWork() if fuller else None})))
    return planned, time.perf_counter() - began, time.process_time() - cpu


def changed(before: Planned, after: Planned) -> str:
    """Say how many activities of the plain plan start on another day under the fuller model."""
    then = {a.id: a.start.date() for a in before.plan.activities}
    now = {a.id: a.start.date() for a in after.plan.activities}
    moves = Counter("later" if now[k] > then[k] else "sooner" for k in then.keys() & now.keys() if now[k] != then[k])
    kinds = Counter(a.kind for a in after.plan.activities if a.id not in then)
    added = ", ".join(f"{count} {kind}" for kind, count in kinds.most_common())
    return f"{moves['later']} start on a later day, {moves['sooner']} on a sooner one; new: {added}"


def main() -> int:
    """Plan both sites both ways and print the figures; return 1 where a time or a proof is missing."""
    kept = True
    for name, wanted in WANTED_S.items():
        plain, *_ = timed(name, fuller=False)
        planned, seconds, cpu = timed(name, fuller=True)
        plan = planned.plan
        proved = plan.finish is not None and plan.finish == plan.finish_bound and not planned.broken
        kept = kept and proved and seconds <= wanted
        print(f"{name}: {len(plain.plan.activities)} -> {len(plan.activities)} activities")
        print(f"  {seconds:.1f} s by the clock, {cpu:.1f} s of processor, wanted {wanted:.0f} s")
        print(f"  finish {plain.plan.finish} -> {plan.finish}, {'proved' if proved else f'bound {plan.finish_bound}'}")
        print(f"  {changed(plain, planned)}", flush=True)
    return int(not kept)


if __name__ == "__main__":
    raise SystemExit(main())
