"""Work that every site has beside the trench, where the site file asks for it with `site_work`."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import networkx as nx

from scheduler.network.kind import Kind
from scheduler.network.network_draft import SITE_FILE, Doing, NetworkDraft, Place
from scheduler.network.open_records import PricedNights
from scheduler.network.order import order_of
from scheduler.network.setting import MACHINE, LayGroup, Made, ReachWork, Setting, machine_id
from scheduler.site.ground import Reach

BRING, TAKE_AWAY = "site/bring-", "site/remove-"
"""How the ids of the work begin that brings a machine and takes it away."""
SIGNS_UP, SIGNS_DOWN = "/traffic-on", "/traffic-off"
"""How the ids of the work end, after the reach, that sets traffic control up and takes it down."""
PART_OF = f"{SITE_FILE}: site_work"


def asked(setting: Setting, what: str) -> bool:
    """Return whether the site file asks for one kind of site work, by its field in `SiteWork`."""
    work = setting.site.site_work
    return work is not None and bool(getattr(work, what))


def sourced(setting: Setting, rate: str) -> str:
    """Return the source of a step of site work with the source of its rate."""
    return f"{PART_OF}; rate {setting.site.rates.cited(rate)}"


def build_reach_steps(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Make the site work of each reach: traffic control, photographs and covers, shields and pumps out."""
    for reach in setting.site.reaches:
        work = made.reaches[reach.id]
        if asked(setting, "traffic_control") and reach.place == "street":
            _traffic(setting, draft, reach, work)
        if asked(setting, "cover_evidence"):
            for group in work.groups:
                _evidence(setting, draft, reach, work, group)
        if asked(setting, "protection_out") and f"{reach.id}/protect" in draft.activities:
            _protection_out(setting, draft, reach, work)


def _traffic(setting: Setting, draft: NetworkDraft, reach: Reach, work: ReachWork) -> None:
    rates, where = setting.site.rates, setting.where(reach)
    doing = setting.crew(setting.site.general_trade.id, None)
    place = Place(reach.id, reach.alignment, reach.from_, reach.to)
    on = draft.add(
        f"{reach.id}{SIGNS_UP}",
        f"Set up traffic control, {where}",
        Kind.SITE,
        rates.traffic_set_up_hours,
        doing,
        because="The reach lies in a street: signs, tapers and cones stand before the street is opened.",
        source=f"{sourced(setting, 'traffic_set_up_hours')}; MUTCD Part 6",
        place=place,
    )
    draft.link(on, work.digs[0], because="Traffic is led past before the street is opened.", source=PART_OF)
    off = draft.add(
        f"{reach.id}{SIGNS_DOWN}",
        f"Take down traffic control, {where}",
        Kind.SITE,
        rates.traffic_take_down_hours,
        doing,
        because="The street is given back once its surface can be driven on.",
        source=f"{sourced(setting, 'traffic_take_down_hours')}; MUTCD Part 6",
        place=place,
    )
    for piece in work.pieces:
        because = "Traffic comes back when the surface can be driven on."
        draft.link(piece.cured or piece.finished, off, because=because, source=PART_OF)
    what, where = f"Traffic control, {where}", "rates: traffic_cost_per_night"
    draft.rentals.append(PricedNights(on, off, rates.traffic_cost_per_night, f"traffic/{reach.id}", what, where))


def _evidence(setting: Setting, draft: NetworkDraft, reach: Reach, work: ReachWork, group: LayGroup) -> None:
    pieces = [p for p in work.pieces if p.piece in group.pieces]
    if not group.lays or not pieces:
        return
    feet = sum(p.piece.length_ft for p in pieces)
    name = setting.where(reach if len(pieces) == len(work.pieces) else pieces[0].piece)
    id_ = draft.add(
        f"{group.id}/L{group.layer}/record",
        f"Photograph and measure the cover of {setting.line_names(group.lays)}, {name}",
        Kind.CHECK,
        feet / setting.site.rates.record_ft_per_hour,
        setting.crew(setting.site.general_trade.id, reach),
        because="What is covered cannot be seen again: photographs and measured covers show how it lies.",
        source=sourced(setting, "record_ft_per_hour"),
        place=Place(reach.id, reach.alignment, pieces[0].piece.from_ft, pieces[-1].piece.to_ft),
        lines=group.lays,
        layer=group.layer,
    )
    for before in (*group.lays.values(), *group.extras):
        draft.link(before, id_, because="It is measured as it will lie.", source=PART_OF)
    for piece in pieces:
        because = "A layer is covered once it is photographed and measured."
        draft.link(id_, piece.shades[group.layer], because=because, source=PART_OF)


def _protection_out(setting: Setting, draft: NetworkDraft, reach: Reach, work: ReachWork) -> None:
    rates = setting.site.rates
    shield = setting.sections[reach.id].protection in ("shield", "engineer")
    what = " and ".join(w for w, yes in (("shields", shield), ("pumps", reach.groundwater)) if yes)
    rate = "shields_out_ft_per_hour" if shield else "pump_out_hours"
    for piece in work.pieces:
        hours = piece.piece.length_ft / rates.shields_out_ft_per_hour if shield else 0.0
        top = max(piece.shades, default=None)
        id_ = draft.add(
            f"{piece.piece.id}/protect-out",
            f"Draw {what}, {setting.where(piece.piece)}",
            Kind.PROTECT,
            hours + (rates.pump_out_hours if reach.groundwater else 0.0),
            setting.with_machines(reach, "excavator", crew=True, group=MACHINE),
            because="What held the sides and kept the water out comes up as the fill does.",
            source=sourced(setting, rate),
            place=piece.piece.place,
        )
        draft.link(piece.shades[top] if top is not None else work.opened, id_, because="Nobody works below any more.")
        above = piece.after_shade.get(top, piece.covered) if top is not None else piece.covered
        draft.link(id_, above, because="The last lifts go over ground that no shield stands in.", source=PART_OF)


def build_machines(setting: Setting, draft: NetworkDraft) -> None:
    """Bring each excavator before the first work that needs it, and take it away after the last."""
    if not asked(setting, "machine_delivery"):
        return
    graph = order_of(draft.activities, draft.links.values(), draft.holds)
    if not nx.is_directed_acyclic_graph(graph):
        return  # reported by check_network
    order = list(nx.topological_sort(graph))
    for machine in (e for e in setting.site.equipment if e.kind == "excavator"):
        users = {a.id for a in draft.activities.values() if machine_id(machine.id) in dict(a.needs)}
        if users:
            doing = setting.crew(setting.site.general_trade.id, None)
            first = _outermost(users, order, graph.predecessors)
            last = _outermost(users, reversed(order), graph.successors)
            bring, remove = _bring(setting, draft, doing, machine.id, machine.name, first, last)
            price = None if machine.day_rate is None else round(machine.day_rate * machine.count, 2)
            what, where = f"{machine.name}, rented", f"equipment, {machine.id}: day_rate"
            draft.rentals.append(PricedNights(bring, remove, price, machine_id(machine.id), what, where))


def _outermost(users: set[str], order: Iterable[str], towards: Callable[[str], Iterable[str]]) -> list[str]:
    """Return those users of a machine with no other user on their way to the end of the order."""
    reached: dict[str, bool] = {}
    for id_ in order:
        reached[id_] = any(reached[n] or n in users for n in towards(id_))
    return sorted(u for u in users if not reached[u])


def _bring(
    setting: Setting, draft: NetworkDraft, doing: Doing, machine: str, name: str, first: list[str], last: list[str]
) -> tuple[str, str]:
    rates = setting.site.rates
    bring = draft.add(
        f"{BRING}{machine}",
        f"Bring: {name}",
        Kind.SITE,
        rates.machine_delivery_hours,
        doing,
        because="The machine is unloaded and checked before its first work; its rental begins.",
        source=sourced(setting, "machine_delivery_hours"),
    )
    remove = draft.add(
        f"{TAKE_AWAY}{machine}",
        f"Take away: {name}",
        Kind.SITE,
        rates.machine_removal_hours,
        doing,
        because="The machine leaves after its last work; its rental ends.",
        source=sourced(setting, "machine_removal_hours"),
    )
    for user in first:
        draft.link(bring, user, because="The machine is there.", source=PART_OF)
    for user in last:
        draft.link(user, remove, because="The machine is needed until then.", source=PART_OF)
    return bring, remove
