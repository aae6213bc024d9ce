"""Who and what is scarce: crews, machines, inspectors, outside parties, and room in the trench."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import networkx as nx

from scheduler.network.inspection_looks import inspector_id
from scheduler.network.kind import Kind
from scheduler.network.members import member_resources
from scheduler.network.model import DateRole, DateRule, Resource, ResourceKind, Space
from scheduler.network.nearby import Nearby
from scheduler.network.network_draft import SITE_FILE, NetworkDraft
from scheduler.network.order import order_of
from scheduler.network.outside import outside_id, party_id
from scheduler.network.prices import Mobilisation
from scheduler.network.setting import MACHINE, Setting, crew_id, machine_id
from scheduler.spoken import count
from scheduler.units import format_feet, format_station

NAMED_AT_MOST = 4
"""How many places one sentence names."""
Occupants = tuple[tuple[str, str], ...]
"""Activities that are in one place, each with its group."""
ONE_CHARGE = 3650
"""Days that make a charge fall once, however long the work takes."""


def build_resources(setting: Setting, draft: NetworkDraft) -> None:
    """Make the resources that some activity needs, with their counts."""
    site = setting.site
    made = [
        Resource(
            crew_id(t.id),
            t.name,
            ResourceKind.CREW,
            t.crews,
            t.day_rate,
            t.standing_rate,
            t.stay_days,
            t.setup_cost,
            because=f"{t.name} has {t.crews} crew{'s' if t.crews > 1 else ''} here.",
            source=f"{SITE_FILE}: trades",
        )
        for t in site.trades
    ]
    made += [member for t in site.trades for member in member_resources(t)]
    made += [
        Resource(
            machine_id(e.id),
            e.name,
            ResourceKind.MACHINE,
            e.count,
            e.day_rate,
            e.standing_rate,
            e.stay_days,
            e.setup_cost,
            because=f"There {'are' if e.count > 1 else 'is'} {e.count} of: {e.name}.",
            source=f"{SITE_FILE}: equipment",
        )
        for e in site.equipment
    ]
    made += [
        Resource(
            inspector_id(i),
            i.authority,
            ResourceKind.INSPECTOR,
            because="An inspector looks at one thing at a time.",
            source=f"{SITE_FILE}: inspections",
        )
        for i in site.inspections
    ]
    strangers = [(party_id(w), w.by, "outside_work") for w in site.outside_work if not w.trade]
    strangers += [(party_id(w), w.by, "own_work") for w in site.own_work if w.by]
    made += [
        Resource(
            id_,
            name,
            ResourceKind.OUTSIDE,
            because=f"{name} does one job here at a time.",
            source=f"{SITE_FILE}: {section}",
        )
        for id_, name, section in strangers
    ]
    needed = {r for a in draft.activities.values() for r, _ in a.needs}
    draft.resources.extend({r.id: r for r in made if r.id in needed}.values())


def build_spaces(setting: Setting, draft: NetworkDraft) -> None:
    """Keep trades apart in a reach, and people away from a machine that digs or fills near by."""
    people: dict[str, list[tuple[str, str]]] = defaultdict(list)
    machines: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for id_, group in draft.groups.items():
        if not group:
            continue
        for occupied in draft.also_in.get(id_) or (draft.activities[id_].reach,):
            (machines if group == MACHINE else people)[occupied].append((id_, group))
    nearby = Nearby(setting.site, setting.ground)
    swing = setting.site.limits.swing_ft
    for reach in setting.site.reaches:
        near = [m for other in nearby.within(reach, swing) for m in machines[other]]
        occupants = (*people[reach.id], *machines[reach.id], *near)
        for id_, room in _rooms(draft, reach.id, occupants):
            if len({group for _, group in room}) < 2:
                continue
            draft.spaces.append(
                Space(
                    id_,
                    reach.id,
                    room,
                    because=f"One trade at a time works in {setting.where(reach)}, and nobody is within "
                    f"{format_feet(swing)} of the machine while it digs or fills.",
                    source="29 CFR 1926.651(e), (f); site file: limits, swing_ft",
                )
            )
    _beside(setting, draft, nearby)


def _rooms(draft: NetworkDraft, reach: str, occupants: Occupants) -> Iterator[tuple[str, Occupants]]:
    """Yield the id of each space of a reach, and who shares it.

    What keeps behind the dig at its distance may be there with it, and with it alone: the dig then shares one space
    with all others, and they share another without it.
    """
    here = [k for k in draft.kept_behind if draft.activities[k.after].reach == reach]
    digs = {k.before for k in here if draft.activities[k.before].kind is Kind.DIG}
    behind = {k.after for k in here if k.before in digs}
    yield f"space/{reach}", tuple((a, group) for a, group in occupants if a not in digs)
    if digs:
        yield f"space/{reach}/dig", tuple((a, group) for a, group in occupants if a not in behind)


def _beside(setting: Setting, draft: NetworkDraft, nearby: Nearby) -> None:
    """Keep people who stand at the end of a run or line away from machines at work within their swing."""
    swing = setting.site.limits.swing_ft
    machines = [draft.activities[id_] for id_, group in draft.groups.items() if group == MACHINE]
    alike: dict[tuple[str, tuple[str, ...]], list[str]] = defaultdict(list)
    for id_, stands in draft.stands.items():
        at_work = ((m.id, (m.alignment, m.from_ft, m.to_ft)) for m in machines)
        near = tuple(m for m, part in at_work if any(nearby.near((on, at, at), part, swing) for on, at in stands))
        if near:
            alike[draft.activities[id_].trade or id_, near].append(id_)
    for (who, reached), people in alike.items():
        places = dict.fromkeys(stand for id_ in people for stand in draft.stands[id_])
        where = _few([f"{setting.alignment_names[on]} {format_station(at)}" for on, at in places])
        draft.spaces.append(
            Space(
                f"beside/{people[0]}",
                "",
                tuple((id_, who) for id_ in people) + tuple((id_, MACHINE) for id_ in reached),
                because=f"People stand at {where}, and nobody is within {format_feet(swing)} of the machine while it "
                "digs or fills.",
                source="29 CFR 1926.651(e); site file: limits, swing_ft",
                where=where,
            )
        )


def _few(places: list[str]) -> str:
    """Name the first places of many, and say how many more there are."""
    if len(places) > NAMED_AT_MOST:
        return f"{', '.join(places[:NAMED_AT_MOST])} and {len(places) - NAMED_AT_MOST} more places"
    return " and ".join([*([", ".join(places[:-1])] if len(places) > 1 else []), places[-1]])


def build_mobilisations(setting: Setting, draft: NetworkDraft) -> None:
    """Make what it costs to bring each trade and outside party, and the notice trades need."""
    by_trade: dict[str, list[str]] = defaultdict(list)
    for activity in draft.activities.values():
        if activity.trade and activity.kind.takes_time:
            by_trade[activity.trade].append(activity.id)
    for trade in setting.site.trades:
        if by_trade[trade.id]:
            draft.mobilisations.append(
                Mobilisation(
                    f"mobilise/{trade.id}",
                    trade.name,
                    tuple(by_trade[trade.id]),
                    trade.mobilisation_cost,
                    trade.stay_days,
                    f"trades, {trade.id}: mobilisation_cost",
                    crew_id(trade.id),
                    0.0 if trade.own and trade.least_per_coming is None else trade.least_per_coming,
                )
            )
    for work in setting.site.outside_work:
        if work.cost is None or work.cost > 0:
            id_ = outside_id(work.id)
            where = f"outside_work, {work.id}: cost"
            draft.mobilisations.append(Mobilisation(f"mobilise/{id_}", work.name, (id_,), work.cost, ONE_CHARGE, where))
    _trade_notice(setting, draft, by_trade)


def _trade_notice(setting: Setting, draft: NetworkDraft, by_trade: dict[str, list[str]]) -> None:
    """Let no trade start before its notice has run: said of the work that could be its first."""
    graph = order_of(draft.activities, draft.links.values(), draft.holds, draft.kept_behind)
    if not nx.is_directed_acyclic_graph(graph):
        return  # reported by check_network
    been: dict[str, frozenset[str]] = {}
    for id_ in nx.topological_sort(graph):
        came = frozenset().union(*(been[p] for p in graph.predecessors(id_)))
        doing = draft.activities[id_].trade
        been[id_] = came | {doing} if doing else came
    for trade in setting.site.trades:
        not_before = setting.hours.after_notice(trade.calendar, setting.data_date, trade.notice_days)
        if not_before <= setting.data_date:
            continue
        for id_ in by_trade[trade.id]:
            if all(trade.id not in been[p] for p in graph.predecessors(id_)):
                draft.dates.append(
                    DateRule(
                        f"notice/{trade.id}/{id_}",
                        id_,
                        not_before,
                        role=DateRole.TRADE_NOTICE,
                        because=f"{trade.name} needs {count(trade.notice_days, 'working day')} "
                        "of notice before coming.",
                        source=f"{SITE_FILE}: trades, notice_days",
                    )
                )
