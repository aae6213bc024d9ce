"""Random sites with rates: the plan for the least money costs no more than a plan for any other aim.

    python -m tests.benchmarks.cost_aims [--from 0] [--count 100] [--seconds 3000]

Each site is planned for the finish alone, in stages, in stages with a day of finish given up, and in money; the
one in money knows none of the others but its own beginning. Wanted, by the sum of the bill: none dearer than another
aim's, every plan audited, each row of its stages the plan's own value, and 'proved' only where that value meets its
bound. A site that fails is told with its number.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import replace
from random import Random

from scheduler.audit import audit
from scheduler.costs.billing import bill
from scheduler.network.derive import derive
from scheduler.network.model import Network
from scheduler.site.site_record import Site
from scheduler.site.site_work import SiteWork
from scheduler.solve.goals import EVERY_GOAL
from scheduler.solve.outcome import Options, Outcome
from scheduler.solve.run import DAYS_FOR_COST, solve
from tests.benchmarks.site_generator import random_small_site

QUICK = Options(workers=2, start_effort=0.05, finish_effort=0.1, exposure_effort=0.5, money_effort=0.5)
OTHER_AIMS = {
    "finish alone": replace(QUICK, only_finish=True),
    "in stages": QUICK,
    "a day later": replace(QUICK, slack_days=1.0),
}


def priced(rng: Random) -> Site:
    """Return a random site in which every rate is given or not by chance."""
    site = random_small_site(rng)

    def rate(*amounts: float) -> float | None:
        return rng.choice((None, *amounts))

    job = {
        "overhead_per_day": rate(400.0),
        "exposure_per_ft_night": rate(0.5, 2.0),
        "unpaved_per_ft_night": rate(0.3),
    }
    if site.site.target_finish is not None:
        job["damages_per_day"] = rate(700.0)
    trades, machines = (
        [
            p.model_copy(update={"day_rate": rate(900.0), "standing_rate": rate(600.0), "setup_cost": rate(35.0)})
            for p in parties
        ]
        for parties in (site.trades, site.equipment)
    )
    looked = {"wait_cost_per_hour": rate(80.0), "ready_hours": rng.choice((0.0, 1.0))}
    inspections = [i.model_copy(update=looked | {"fee": rate(60.0, 90.0)}) for i in site.inspections]
    site_work = rng.choice((None, SiteWork()))
    return site.model_copy(
        update={
            "site": site.site.model_copy(update=job),
            "trades": [t.model_copy(update={"least_per_coming": rate(1500.0, 2500.0)}) for t in trades],
            "equipment": machines,
            "inspections": inspections,
            "bookings": [b.model_copy(update={"move_cost": rate(250.0)}) for b in site.bookings],
            "site_work": site_work,
        }
    )


def rows_wrong(network: Network, outcome: Outcome) -> list[str]:
    """Return the rows of an outcome that give another value than its plan has, or call one proved that is not."""
    assert outcome.schedule is not None
    days = (outcome.schedule.finish - network.data_date) * network.clock.tick_minutes / 1440
    own = {"finish": days} | {g.name: g.amount(network, outcome.schedule) / g.per_unit for g in EVERY_GOAL}
    wrong = [s.name for s in outcome.stages if s.name in own and abs((s.value or 0.0) - own[s.name]) > 1e-3]
    return wrong + [s.name for s in outcome.stages if s.proved and (s.value or 0.0) > (s.bound or 0.0) + 1e-3]


def faults(number: int) -> list[str]:
    """Plan one site for each aim; return what is wrong."""
    network = derive(priced(Random(number)))
    in_money = solve(network, replace(QUICK, objective="cost"))
    if in_money.schedule is None:
        return ["no plan"]
    found = [str(f) for f in audit(network, in_money.schedule)] + rows_wrong(network, in_money)
    total = bill(network, in_money.schedule).total
    last = in_money.finish_bound
    for name, options in OTHER_AIMS.items():
        other = solve(network, options)
        assert other.schedule is not None
        found += [str(f) for f in audit(network, other.schedule)] + rows_wrong(network, other)
        within = other.schedule.finish <= (last or 0) + network.clock.ticks(days=DAYS_FOR_COST)
        if within and (dearer := total - bill(network, other.schedule).total) > 0.005:
            found.append(f"{dearer:,.2f} dollars dearer than the plan {name}")
    return found


def main(arguments: Sequence[str] | None = None) -> int:
    """Go through the sites and print what was found; return 1 where anything is wrong."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--from", dest="first", type=int, default=0, metavar="N", help="the number of the first site")
    parser.add_argument("--count", type=int, default=100, help="how many sites")
    parser.add_argument("--seconds", type=float, default=3000.0, help="begin no site after this time")
    args = parser.parse_args(arguments)
    began, cpu, bad, done = time.perf_counter(), time.process_time(), 0, 0
    for number in range(args.first, args.first + args.count):
        if time.perf_counter() - began > args.seconds:
            print(f"out of time: go on with --from {number} --count {args.first + args.count - number}")
            break
        found = faults(number)
        done, bad = done + 1, bad + bool(found)
        for text in found:
            print(f"site {number}: {text}", flush=True)
    print(f"{done} sites: {done - bad} as wanted, {bad} with faults; {time.process_time() - cpu:.0f} s of processor")
    return int(bad > 0)


if __name__ == "__main__":
    raise SystemExit(main())
