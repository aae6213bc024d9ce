"""What is drawn last of a small random site, so that all before it stays as it was: closed weeks, ways, site work."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from random import Random

from scheduler.network.derive import derive
from scheduler.network.model import Network
from scheduler.network.one_day import least_time
from scheduler.network.pieces import Ground
from scheduler.site.crew_members import CrewMember, WorkNeeds
from scheduler.site.ground import Reach
from scheduler.site.own_work import STAGES, OwnWork
from scheduler.site.seasons import Season
from scheduler.site.site_record import Site
from scheduler.site.site_work import SiteWork
from scheduler.site.work_kinds import WorkKind
from scheduler.site.work_rates import WorkRates


def with_closed_weeks(rng: Random, site: Site, *, share: float = 0.3) -> Site:
    """Return a site, now and then, on whose own hours more than a week is closed in a row, a firm date apart."""
    first = site.site.first_day + timedelta(days=rng.randrange(8, 45))
    days = [first + timedelta(days=n) for n in range(rng.randrange(9, 24))]
    if rng.random() >= share or any(booking.firm for booking in site.bookings):
        return site
    own = site.general_trade.calendar
    calendars = [c.model_copy(update={"closed": [*c.closed, *days]}) if c.id == own else c for c in site.calendars]
    return site.model_copy(update={"calendars": calendars})


def with_ways(rng: Random, site: Site) -> Site:
    """Return a site on which each drive is plated or fenced at night."""
    return _at_night(site, lambda _: rng.choice(("plated", "plated", "fenced")))


def with_work(rng: Random, site: Site) -> Site:
    """Return a site with work beside the trench and up to three own steps, some reaches in streets and paved."""
    reaches = [
        r.model_copy(
            update={
                "place": rng.choice([r.place, "street"]),
                "surface": rng.choice([r.surface, "asphalt", "concrete"]),
                "spoil": rng.choice([r.spoil, "haul"]),
            }
        )
        for r in site.reaches
    ]
    wanted = SiteWork(**{field: rng.random() < 0.8 for field in SiteWork.model_fields})
    steps = [_own_step(rng, n) for n in range(rng.randint(0, 3))]
    job = site.site.model_copy(update={"target_finish": None, "horizon_days": site.site.horizon_days + 60})
    return site.model_copy(update={"site": job, "reaches": reaches, "site_work": wanted, "own_work": steps})


def _own_step(rng: Random, n: int) -> OwnWork:
    """Return one step in every reach, between two stages in their order or after or before one."""
    last = STAGES.index("restore")
    first = rng.randrange(-1, last)
    then = rng.randrange(first + 1, last + 2)
    released = then <= last and rng.random() < 0.3
    return OwnWork(
        id=f"s{n}",
        name=f"Step {n}",
        hours=rng.choice((0.5, 2.0)),
        after=STAGES[first] if first >= 0 else None,
        before=STAGES[then] if then <= last else None,
        gate=rng.random() < 0.3,
        released_by="inspector" if released else None,
        in_trench=rng.random() < 0.5,
    )


def with_season(rng: Random, site: Site) -> Site:
    """Return a site with a season of some days that stops some work, or open trench, in some of its reaches."""
    first = site.site.first_day + timedelta(days=rng.randrange(0, 30))
    last = first + timedelta(days=rng.randrange(2, 12))
    stops = rng.choice((["dig"], ["pave"], ["restore"], ["lay", "fill"], ["open_trench"], ["surface_cut", "dig"]))
    yearly = rng.random() < 0.5
    season = Season.model_validate(
        {
            "id": "season",
            "name": "as agreed with the owner",
            "from": f"{first:%m-%d}" if yearly else str(first),
            "to": f"{last:%m-%d}" if yearly else str(last),
            "stops": stops,
            "reaches": [r.id for r in site.reaches if rng.random() < 0.6],
        }
    )
    job = site.site.model_copy(update={"horizon_days": site.site.horizon_days + 30})
    return site.model_copy(update={"site": job, "seasons": [season]})


def with_rates(rng: Random, site: Site) -> Site:
    """Return a site on which a third of the rates are from two thirds to one and a half of what is common."""
    usual = WorkRates().model_dump()
    drawn = {name: value * rng.uniform(0.67, 1.5) for name, value in usual.items() if rng.random() < 1 / 3}
    drawn.pop("each_further_conduit", None)
    return site.model_copy(update={"rates": WorkRates.model_validate(drawn)})


def with_tests_over_reaches(rng: Random, site: Site) -> Site:
    """Return a site on which about half of the tested lines are tested reach by reach, capped at both ends."""
    lines = [
        line.model_copy(update={"test": line.test.model_copy(update={"over": rng.choice((None, "reach"))})})
        if line.test
        else line
        for line in site.lines
    ]
    return site.model_copy(update={"lines": lines})


def with_members(rng: Random, site: Site) -> Site:
    """Return a site on which the crew that digs has members, and a few kinds of work take some of them only."""
    members = [CrewMember(skill="operator"), CrewMember(skill="layer", count=rng.randint(1, 2))]
    members += [CrewMember(skill="flagger")] * rng.randint(0, 1)
    by_hand: list[WorkKind] = [kind for kind in ("bed", "lay", "shade") if rng.random() < 0.7]
    needs = [WorkNeeds(work=["dig"], members=[members[0], *members[2:]])]
    needs += [WorkNeeds(work=by_hand, members=[CrewMember(skill="layer")])] if by_hand else []
    split = {"members": members, "work_needs": needs}
    trades = [t.model_copy(update=split) if t.id == site.general_trade.id else t for t in site.trades]
    return site.model_copy(update={"trades": trades})


def with_work_behind_the_dig(rng: Random, site: Site) -> Site:
    """Return a site on which bedding and laying follow the dig at a distance, no less than the swing of the machine."""
    limits = site.limits.model_copy(update={"swing_ft": 10.0, "lay_behind_ft": rng.choice((10.0, 15.0, 20.0))})
    return site.model_copy(update={"limits": limits})


def with_second_ticket(site: Site, life_days: int | None = None) -> Site:
    """Return a site with a second locate ticket over all its ground, called later and of a shorter life.

    `life_days`: None: a week less than the first.
    """
    ticket = site.locate_tickets[0]
    later = {"called": ticket.called + timedelta(days=2), "life_days": life_days or max(10, ticket.life_days - 7)}
    later |= {"clear": ticket.clear + timedelta(days=2)} if ticket.clear else {}
    second = ticket.model_copy(update={"id": "second", "alignments": [], **later})
    return site.model_copy(update={"locate_tickets": [*site.locate_tickets, second]})


def filled_the_same_day(site: Site) -> Network:
    """Return the network of a site whose drives are dug and filled in one day each, in quick work that nobody looks at.

    A drive in which something is kept open, or cures or is tested for too long, is plated.
    """
    looks = {i.id for i in site.inspections}
    site = site.model_copy(update={"inspections": [], "bookings": [b for b in site.bookings if b.of not in looks]})
    kept = {p.reach for pieces in Ground(site).pieces.values() for p in pieces if p.keeps}
    network = _quick(derive(_at_night(site, lambda reach: "plated" if reach.id in kept else "filled")))
    for shut in (s for s in network.kept_shut if s.kind == "way"):
        day = max(b - a for a, b in network.calendar_of(shut.opens).windows)
        if least_time(network, shut.opens, shut.closes).ticks > 0.7 * day:
            kept.add(network.by_id[shut.opens].reach)
    return _quick(derive(_at_night(site, lambda reach: "plated" if reach.id in kept else "filled")))


def _quick(network: Network) -> Network:
    filled = {w.reach for w in network.ways if w.at_night == "filled"}
    activities = tuple(replace(a, work=1) if a.reach in filled and a.work else a for a in network.activities)
    return replace(network, activities=activities)


def _at_night(site: Site, drawn: Callable[[Reach], str]) -> Site:
    reaches = [
        r.model_copy(update={"access": r.access.model_copy(update={"at_night": drawn(r)})}) if r.access else r
        for r in site.reaches
    ]
    return site.model_copy(update={"reaches": reaches})
