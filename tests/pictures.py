"""Plans and pictures for tests of figures and pages, made by the quick serial rule, without the solver."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import scenarios
from app.figures.work import Picture
from scheduler.assembly import plan_of
from scheduler.network.derive import derive
from scheduler.network.model import Network
from scheduler.plan import SiteRef
from scheduler.schedule import Schedule
from scheduler.site.files import load_site
from scheduler.site.site_record import Site
from scheduler.solve.first_plan.generate import generate
from scheduler.solve.outcome import Outcome, StageReport, Status

SITES = ("orchard-lane", "lantern-street")


@cache
def bundled(name: str) -> tuple[Site, Network, Schedule]:
    """Return a bundled site, its network, and a quick schedule of it that no test may call the best."""
    site = load_site(Path(scenarios.__file__).with_name(f"{name}.yaml"))
    network = derive(site)
    schedule = generate(network, budget_seconds=0.05)
    assert schedule is not None
    return site, network, schedule


@cache
def picture(name: str) -> Picture:
    """Return the picture of a bundled site's quick plan."""
    site, network, schedule = bundled(name)
    return pictured(site, network, schedule)


def pictured(site: Site, network: Network, schedule: Schedule) -> Picture:
    """Return the picture of any schedule, its finish not proved."""
    stage = StageReport("finish", 20.0, 18.0, "longest path", "days", False, 0.1)
    outcome = Outcome(Status.FEASIBLE, schedule, (stage,), 0.1, network.data_date)
    return Picture(plan_of(network, outcome, site=SiteRef(name=site.site.name)), network, site)
