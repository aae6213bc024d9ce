"""Invented networks built by hand for tests: no site, only the records a solver or a check sees."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from random import Random

from scheduler.network.kind import Kind
from scheduler.network.model import (
    Activity,
    DateRule,
    Hold,
    Link,
    LinkType,
    Network,
    Opening,
    OpenLimit,
    Renewal,
    Resource,
    ResourceKind,
    Space,
    Ticket,
    VisitRule,
)
from scheduler.worktime.calendar import Calendar
from scheduler.worktime.clock import Clock

FIRST_DAY = date(2025, 3, 3)
TRADES = ("power", "communications", "water")
BOTTLENECKS = ("excavator", "labour", "power", "inspector")


def always(horizon: int) -> dict[str, Calendar]:
    """Return one calendar, 'always', that is open all the time until `horizon`."""
    return {"always": Calendar("always", "always", ((0, horizon),))}


def plain_network(
    works: Sequence[int],
    pairs: Sequence[tuple[int, int]],
    *,
    horizon: int = 1000,
    **rules: object,
) -> Network:
    """Return activities '0', '1', ... of the given work, finish to start by `pairs`, always open."""
    activities = tuple(Activity(str(i), f"activity {i}", Kind.PLAIN, w, "always") for i, w in enumerate(works))
    links = tuple(Link(f"{a}-{b}", str(a), str(b)) for a, b in pairs)
    fields: dict[str, object] = {"activities": activities, "links": links, **rules}
    return Network(
        name="plain",
        clock=Clock.starting(FIRST_DAY, "UTC"),
        data_date=0,
        horizon=horizon,
        calendars=always(horizon),
        **fields,  # type: ignore[arg-type]
    )


def weekly(clock: Clock, id_: str, weekdays: Sequence[int], hours: Sequence[tuple[int, int]], days: int) -> Calendar:
    """Return a calendar open on `weekdays` (0 is Monday) between the given hours, for `days` days."""
    windows = []
    for n in range(days):
        day = FIRST_DAY + timedelta(days=n)
        if day.weekday() in weekdays:
            for a, b in hours:
                windows.append((_tick(clock, day, a), _tick(clock, day, b)))
    return Calendar(id_, id_, tuple(windows))


def _tick(clock: Clock, day: date, hour: int) -> int:
    return clock.tick(datetime.combine(day, time(hour)))


def _calendars(clock: Clock, days: int, *, looks_on: Sequence[int]) -> dict[str, Calendar]:
    return {
        "crew": weekly(clock, "crew", range(5), ((7, 12), (13, 16)), days),
        "utility": weekly(clock, "utility", range(4), ((8, 16),), days),
        "mornings": weekly(clock, "mornings", looks_on, ((8, 10),), days),
    }


def trench_network(
    reaches: int, seed: int = 0, *, bottleneck: str = "excavator", open_reaches: int | None = 6, pass_days: int = 8
) -> Network:
    """Return an invented joint trench of `reaches`: dig, bed, three lays, look, shade and fill in each.

    `bottleneck` is one of BOTTLENECKS and makes that party scarce.
    """
    rng = Random(seed)
    slow = {name: 3 if name == bottleneck else 1 for name in BOTTLENECKS}
    days = 40 + 6 * reaches
    clock = Clock.starting(FIRST_DAY, "America/New_York")
    calendars = _calendars(clock, days, looks_on=(1, 3) if bottleneck == "inspector" else range(5))
    activities: list[Activity] = []
    links: list[Link] = []
    spaces: list[Space] = []
    openings: list[Opening] = []
    holds: list[Hold] = []
    look_ft: dict[str, float] = {}
    for r in range(reaches):
        length = rng.randint(4, 16) * 10
        work = {
            "dig": max(4, length // 8) * slow["excavator"],
            "bed": max(2, length // 30) * slow["labour"],
            **{t: max(2, length // 20) * slow.get(t, 1) for t in TRADES},
            "look": 2,
            "shade": max(2, length // 30) * slow["labour"],
            "fill": max(3, length // 12) * slow["excavator"],
        }
        activities += _reach_activities(r, work, from_ft=100.0 * r, to_ft=100.0 * r + length)
        links += _reach_links(r, pass_days * 96)
        groups = {"dig": "machine", "fill": "machine", "bed": "labour", "shade": "labour", "look": "inspector"}
        spaces.append(
            Space(f"room {r}", f"R{r}", tuple((f"{step}{r}", groups.get(step, step)) for step in work), "one at a time")
        )
        openings.append(Opening(f"open {r}", f"R{r}", float(length), f"dig{r}", f"fill{r}"))
        holds.append(Hold(f"hold {r}", "hold", f"look before cover {r}", f"look{r}", (f"shade{r}",), (f"R{r}",)))
        look_ft[f"look{r}"] = float(length)
    return Network(
        name=f"trench of {reaches}",
        clock=clock,
        data_date=0,
        horizon=days * 96,
        calendars=calendars,
        activities=tuple(activities),
        links=tuple(links),
        resources=tuple(
            Resource(name, name, kind, capacity)
            for name, kind, capacity in (
                ("excavator", ResourceKind.MACHINE, 1),
                ("labour", ResourceKind.CREW, 1 if bottleneck == "labour" else 2),
                *((t, ResourceKind.CREW, 1) for t in TRADES),
            )
        ),
        spaces=tuple(spaces),
        openings=tuple(openings),
        open_limits=()
        if open_reaches is None
        else (OpenLimit("reaches open", open_reaches, tuple((o.id, 1) for o in openings), "reaches"),),
        tickets=(_ticket(reaches, days),),
        visit_rules=(
            VisitRule(
                "trench look", "trench look", "city", "mornings", tuple(look_ft), look_ft, max_looks=2, max_ft=300.0
            ),
        ),
        holds=tuple(holds),
    )


def _reach_activities(r: int, work: dict[str, int], *, from_ft: float, to_ft: float) -> list[Activity]:
    kinds = {
        "dig": Kind.DIG, "bed": Kind.BED, "look": Kind.INSPECT, "shade": Kind.SHADE, "fill": Kind.FILL,
    }  # fmt: skip
    needs = {"dig": "excavator", "fill": "excavator", "bed": "labour", "shade": "labour"}
    out = []
    for step, ticks in work.items():
        party = needs.get(step, step)
        out.append(
            Activity(
                id=f"{step}{r}",
                name=f"{step} in reach {r}",
                kind=kinds.get(step, Kind.LAY),
                work=ticks,
                calendar={"look": "mornings", "power": "utility"}.get(step, "crew"),
                one_window=step == "look",
                needs=() if step == "look" else ((party, 1),),
                trade=party,
                reach=f"R{r}",
                alignment="main",
                from_ft=from_ft,
                to_ft=to_ft,
            )
        )
    return out


def _reach_links(r: int, pass_ticks: int) -> list[Link]:
    steps = [("dig", "bed"), *(("bed", t) for t in TRADES), *((t, "look") for t in TRADES), ("shade", "fill")]
    links = [Link(f"{a}{r}-{b}{r}", f"{a}{r}", f"{b}{r}") for a, b in steps]
    expiry = Link(f"pass {r}", f"look{r}", f"shade{r}", lag=pass_ticks, at_most=True, because="a pass goes stale")
    return [*links, expiry]


def _ticket(reaches: int, days: int) -> Ticket:
    renewals = tuple(Renewal(f"renewal {k}", (20 * k - 2) * 96, 20 * (k + 1) * 96) for k in range(1, days // 20 + 1))
    return Ticket("ticket", "locate ticket", 2 * 96, 20 * 96, tuple(f"dig{r}" for r in range(reaches)), renewals, 25.0)


def tiny_network(rng: Random) -> Network:
    """Return a random network of a few activities on short calendars, with a few rules of most kinds."""
    count, horizon = rng.randint(3, 6), 90
    calendars = {
        "days": Calendar("days", "days", tuple((d * 9, d * 9 + 6) for d in range(10))),
        "mornings": Calendar("mornings", "mornings", tuple((d * 9 + 1, d * 9 + 4) for d in range(0, 10, 2))),
        **always(horizon),
    }
    look = str(count - 1) if rng.random() < 0.5 else None
    activities = tuple(
        Activity(
            id=str(i),
            name=f"activity {i}",
            kind=Kind.INSPECT if str(i) == look else Kind.PLAIN,
            work=1 if str(i) == look else rng.choice((0, 1, 2, 3, 4, 7)),
            calendar="mornings" if str(i) == look else rng.choice(("days", "days", "mornings", "always")),
            one_window=str(i) == look,
            least_start=0 if str(i) == look else rng.choice((0, 2)),
            needs=tuple((r, 1) for r in ("crew", "digger") if rng.random() < 0.5),
        )
        for i in range(count)
    )
    links = tuple(
        Link(
            f"{a}-{b}",
            str(a),
            str(b),
            type=rng.choice((LinkType.FS, LinkType.FS, LinkType.SS, LinkType.FF)),
            lag=rng.choice((0, 0, 2)),
            lag_calendar=rng.choice((None, None, "days")),
        )
        for a in range(count)
        for b in range(a + 1, count)
        if rng.random() < 0.3
    )
    if rng.random() < 0.3:
        links += (Link("stale", "0", str(count - 1), lag=30, at_most=True),)
    openings = tuple(Opening(f"o{i}", "", 1.0, str(i), str(i + 1)) for i in range(0, count - 1, 2))
    return Network(
        name="tiny",
        clock=Clock.starting(FIRST_DAY, "UTC"),
        data_date=rng.randint(0, 3),
        horizon=horizon,
        calendars=calendars,
        activities=activities,
        links=links + tuple(Link(f"{o.id} order", o.opens, o.closes) for o in openings),
        dates=(DateRule("after", "0", rng.randint(0, 12)),) if rng.random() < 0.3 else (),
        resources=(Resource("crew", "crew", capacity=rng.randint(1, 2)), Resource("digger", "digger")),
        spaces=(Space("room", "", tuple((str(i), rng.choice("ab")) for i in range(count - 1))),),
        openings=openings,
        open_limits=(OpenLimit("limit", 1, tuple((o.id, 1) for o in openings)),) if rng.random() < 0.5 else (),
        visit_rules=(VisitRule("looks", "looks", "city", "mornings", (look,), max_looks=1),) if look else (),
    )
