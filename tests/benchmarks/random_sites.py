"""Random sites with every kind of rule, each planned, audited, and its plan broken in every way that applies.

    python -m tests.benchmarks.random_sites [--from 0] [--count 300] [--seconds 3000]

The sites have ways, closed weeks, seasons, branches and their junctions, tests over whole lines and over
single reaches, one or two locate tickets, site work, own steps with gates and releases, rates of
their own, crews that split and follow the dig, learning and targets. Each is planned with little
effort, as any plan will do. Wanted: no finding on any plan, no damage that the audit does not name,
and every kind of damage tried on some site. One that fails is told with its number, so that
`--from N --count 1` looks at it alone; a run that is out of time says where the next one goes on.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from random import Random

from scheduler.audit import audit
from scheduler.network.derive import derive
from scheduler.network.kind import Kind
from scheduler.network.model import Network
from scheduler.network.network_check import check_network
from scheduler.schedule import Schedule
from scheduler.site.learning import Learning
from scheduler.site.site_record import Site
from scheduler.site.work_rates import WorkRates
from scheduler.solve.outcome import Options, Status
from scheduler.solve.run import solve
from scheduler.trench.junctions import junctions
from tests.benchmarks.site_extras import (
    filled_the_same_day,
    with_members,
    with_rates,
    with_season,
    with_second_ticket,
    with_tests_over_reaches,
    with_work,
    with_work_behind_the_dig,
)
from tests.benchmarks.site_generator import random_small_site
from tests.damage import DAMAGES

QUICK = Options(workers=1, only_finish=True, start_effort=0.01, finish_effort=0.02)
"""Any plan will do; how good it is, is asked elsewhere."""
NO_SUCH_DAY = "planned with a way open at night, since proved impossible to fill the same day"


def planned(network: Network, options: Options = QUICK) -> Schedule:
    """Return a plan; AssertionError where none is found."""
    schedule = solve(network, options).schedule
    assert schedule is not None, f"no plan for {network.name}"
    return schedule


def missed(network: Network, schedule: Schedule, tried: Counter[str]) -> list[str]:
    """Do every kind of damage that applies; return the kinds that the audit did not name, or of another family."""
    out = []
    for family, damage in ((family, damage) for family, damages in DAMAGES.items() for damage in damages):
        damaged = damage(network, schedule)
        if damaged is not None:
            tried[damage.__name__] += 1
            if damaged[1] not in {f.rule for f in audit(network, damaged[0])}:
                out.append(f"{damage.__name__} of {damaged[1]} in {network.name}")
            if family not in ("activities", "calendars") and damaged[1] not in _ids(network, family):
                out.append(f"{damage.__name__} of {damaged[1]} breaks none of the {family}")
    return out


def _ids(network: Network, family: str) -> set[str]:
    """Return the ids of the records of one family."""
    records = getattr(network, family)
    return {record.id for record in (records if isinstance(records, tuple) else (records,))}


def drawn(number: int) -> tuple[Site, Network]:
    """Return a random site and its network, the same for the same number; each fifth fills its drives the same day."""
    rng = Random(f"random site {number}")
    site = random_small_site(rng, most=10 if number % 2 else 6)
    if rng.random() < 0.7:
        site = with_work(rng, site)
    if rng.random() < 0.5:
        site = with_rates(rng, site)
    if rng.random() < 0.25:
        site = with_second_ticket(site, rng.choice((7, 14, 21)))
    if rng.random() < 0.3:
        site = with_tests_over_reaches(rng, site)
    if rng.random() < 0.3:
        last = site.site.first_day + timedelta(days=site.site.horizon_days - 7)
        site = site.model_copy(update={"site": site.site.model_copy(update={"target_finish": last})})
    if not any(b.firm for b in site.bookings) and rng.random() < 0.4:
        site = with_season(rng, site)
    if number % 3 == 1:
        site = with_members(rng, site)
        site = with_work_behind_the_dig(rng, site)
    if number % 4 == 2:
        site = site.model_copy(update={"learning": Learning(rate=rng.choice((0.8, 0.9, 0.95)))})
    return site, filled_the_same_day(site) if number % 5 == 4 else derive(site)


def features(site: Site, network: Network) -> list[str]:
    """Return what a site has of the kinds of rule that not every site has."""
    kinds = {
        "ways plated or fenced at night": any(w.at_night != "filled" for w in network.ways),
        "ways filled the same day": any(s.kind == "way" for s in network.kept_shut),
        "closed weeks that no trench may straddle": any(s.kind == "closed weeks" for s in network.kept_shut),
        "seasons that stop work": any(c.barred for c in network.calendars.values()),
        "seasons without open trench": any(s.kind == "season" for s in network.kept_shut),
        "junctions": any(junctions(site)),
        "tests over several reaches": any(a.kind is Kind.TEST and not a.reach for a in network.activities),
        "more than one ticket": len(network.tickets) > 1,
        "site work": site.site_work is not None,
        "wet lines connected": any("/connect-" in a.id for a in network.activities),
        "own steps": bool(site.own_work),
        "own steps that hold": any(h.id.startswith("hold/own/") for h in network.holds),
        "crews that split": any(t.members for t in site.trades),
        "work behind the dig": bool(network.kept_behind),
        "learning": site.learning.rate is not None,
        "rates of their own": site.rates != WorkRates(),
        "a target": network.target is not None,
        "appointments": bool(network.bookings),
        "kept open for others": bool(site.keep_open),
    }
    return [name for name, has in kinds.items() if has]


def faults(number: int, tried: Counter[str], seen: Counter[str]) -> list[str]:
    """Plan, audit and damage one site; return what is wrong, and count the damage tried and what the site has."""
    site, network = drawn(number)
    seen.update(features(site, network))
    seen["activities"] += len(network.activities)
    if wrong := [f.text for f in check_network(network)]:
        return wrong
    outcome = solve(network, QUICK)
    free = replace(network, kept_shut=tuple(shut for shut in network.kept_shut if shut.kind != "way"))
    if outcome.status is Status.INFEASIBLE and free != network:
        seen[NO_SUCH_DAY] += 1
        network, outcome = free, solve(free, QUICK)
    schedule = outcome.schedule
    if schedule is None:
        return [f"no plan, {outcome.status.value}"]
    return [*(str(f) for f in audit(network, schedule)), *missed(network, schedule, tried)]


def main(arguments: Sequence[str] | None = None) -> int:
    """Go through the sites, print what was found and the figures; return 1 where anything is wrong."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--from", dest="first", type=int, default=0, metavar="N", help="the number of the first site")
    parser.add_argument("--count", type=int, default=300, help="how many sites")
    parser.add_argument("--seconds", type=float, default=3000.0, help="begin no site after this time")
    args = parser.parse_args(arguments)
    began, cpu = time.perf_counter(), time.process_time()
    tried, seen, bad, done = Counter[str](), Counter[str](), 0, 0
    for number in range(args.first, args.first + args.count):
        if time.perf_counter() - began > args.seconds:
            print(f"out of time: go on with --from {number} --count {args.first + args.count - number}")
            break
        found = faults(number, tried, seen)
        done, bad = done + 1, bad + bool(found)
        for text in found:
            print(f"site {number}: {text}", flush=True)
        if done % 25 == 0:
            print(f"{done} sites, {bad} with faults, {time.perf_counter() - began:.0f} s", flush=True)
    _print_figures(done, bad, tried, seen)
    print(f"{time.perf_counter() - began:.0f} s by the clock, {time.process_time() - cpu:.0f} s of processor")
    return int(bad > 0)


def _print_figures(done: int, bad: int, tried: Counter[str], seen: Counter[str]) -> None:
    activities = seen.pop("activities", 0)
    print(f"\n{done} sites of {activities} activities in all: {done - bad} clean, {bad} with faults")
    for name, count in seen.most_common():
        print(f"{count:6}  {name}")
    kinds = [damage.__name__ for damages in DAMAGES.values() for damage in damages]
    print(
        f"{sum(tried.values())} plans damaged, {sum(k in tried for k in kinds)} of {len(kinds)} kinds of damage tried:"
    )
    for name in kinds:
        print(f"{tried[name]:6}  {name.replace('_', ' ')}")


if __name__ == "__main__":
    raise SystemExit(main())
