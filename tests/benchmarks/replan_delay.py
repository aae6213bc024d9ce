"""Seconds to plan again after a utility slips four working days with the trench half dug.

`python -m tests.benchmarks.replan_delay` prints one line a site: wall and processor seconds of the five alternatives
together (aims of the project: 6 s on the small site and 25 s on the street, two idle cores).
"""

from __future__ import annotations

import time
from datetime import timedelta

import scheduler
from scheduler import bundled_sites
from scheduler.audit import audit
from scheduler.ledger.events import Delayed
from tests.happenings import as_planned, entries

SLIPS = {"orchard-lane": ("outside/tie-in", 6.0), "lantern-street": ("outside/gas-tie-in", 25.0)}
"""By site: the outside work that slips, and the seconds allowed."""
FOUR_WORKING_DAYS = timedelta(days=6)
"""Of a utility that does not come at weekends."""


def main() -> None:
    """Measure both bundled sites."""
    for name, (late, allowed) in SLIPS.items():
        case = scheduler.load(bundled_sites()[name])
        before = scheduler.plan(case).plan
        digs = sorted((a for a in before.activities if a.kind == "dig"), key=lambda a: a.start)
        as_of = digs[len(digs) // 2].start + timedelta(minutes=20)
        start = next(a.start for a in before.activities if a.id == late)
        by = next(w.by for w in case.site.outside_work if late.endswith(f"/{w.id}"))
        slip = Delayed(who=by, not_before=start + FOUR_WORKING_DAYS, about=(late,))
        known = entries([*as_planned(case, before, as_of), (as_of, slip)])
        began, spent = time.perf_counter(), time.process_time()
        found = scheduler.replan(case, known, as_of, before=before)
        wall, cpu = time.perf_counter() - began, time.process_time() - spent
        broken = sum(len(audit(a.network, a.schedule)) for a in found.alternatives)
        print(f"{name}: {wall:.1f} s wall, {cpu:.1f} s processor, {allowed:g} s allowed; {broken} rules broken")
        for a in found.alternatives:
            print(f"  {' = '.join(a.aims)}: {a.finish:%a %d %b %H:%M}, {len(a.moves)} moves, {a.cost:,.0f}")


if __name__ == "__main__":
    main()
