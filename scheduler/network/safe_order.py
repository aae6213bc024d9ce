"""What may not come before what it rests on: joints, risers on their poles, energising after loose ends are covered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import networkx as nx

from scheduler.findings import Finding, Severity
from scheduler.network.model import Note
from scheduler.network.network_draft import TRADE_ORDER, NetworkDraft
from scheduler.network.order import order_of
from scheduler.network.outside import OutsideOrder, outside_id
from scheduler.network.setting import Made, Setting
from scheduler.site.ground import KeepOpen, Structure
from scheduler.site.people import OutsideWork

AT_POLE_FT = 2.0
"""A riser stands at what is within this of it."""
CARRIES = ("pole", "panel", "pedestal", "pad", "light", "gate")
"""What a riser is fixed to."""
LIVE = "NFPA 70E 110 (live parts are covered or guarded); trade sequence"


class SafeOrder:
    """Links and gates added to a network whose order is otherwise drawn, none of which closes a circle."""

    def __init__(self, draft: NetworkDraft) -> None:
        self._draft = draft
        self._graph = order_of(draft.activities, draft.links.values(), draft.holds)

    def made(self, activity: str) -> str:
        """Take note of an activity made since, and return its id."""
        self._graph.add_node(activity)
        return activity

    def can_wait(self, activity: str, before: str) -> bool:
        """Tell whether an activity can wait for another, which it does not itself come before."""
        return not nx.has_path(self._graph, activity, before)

    def lines_of(self, activity: str) -> tuple[str, ...]:
        """Return the lines that an activity is about."""
        return self._draft.activities[activity].lines

    def link(self, before: str, after: str, *, because: str, source: str = TRADE_ORDER, lag: int = 0) -> bool:
        """Let an activity wait for another, and return True; False where it cannot."""
        if not self.can_wait(after, before):
            return False
        self._draft.link(before, after, because=because, source=source, lag=lag)
        self._graph.add_edge(before, after)
        return True

    def gate(self, looks: set[str], gate: str) -> bool:
        """Let the hold points that some looks release hold one activity more; return whether it can wait for all."""
        all_held = True
        for n, hold in enumerate(self._draft.holds):
            if hold.look in looks and gate not in hold.gates:
                if not self.can_wait(gate, hold.look):
                    all_held = False
                    continue
                self._draft.holds[n] = replace(hold, gates=(*hold.gates, gate))
                self._graph.add_edge(hold.look, gate)
        return all_held


def build_safe_order(setting: Setting, draft: NetworkDraft, made: Made, order: SafeOrder) -> None:
    """Let risers wait for what they stand on, and energising for what would lie bare."""
    for riser in setting.site.structures:
        if riser.kind == "riser" and riser.id in made.structures:
            _on_its_pole(setting, draft, made, order, riser)
    chain = OutsideOrder(setting)
    for work in setting.site.outside_work:
        if work.kind == "energise":
            _covered_before_live(setting, made, order, chain, work)


def _on_its_pole(setting: Setting, draft: NetworkDraft, made: Made, order: SafeOrder, riser: Structure) -> None:
    """Let a riser wait for what it is fixed to, whoever sets that."""
    beside = [s for s in setting.site.structures if s.kind in CARRIES and s.id != riser.id and _same_place(s, riser)]
    setting_of = [(made.structures[s.id], s.name) for s in beside if s.id in made.structures]
    poles = [s for s in beside if s.kind == "pole"]
    if all(p.trade is None for p in poles):
        setting_of += [(outside_id(w.id), f"the pole that {w.by} sets") for w in _setters(setting, riser, poles)]
    for before, name in setting_of:
        because = f"{riser.name} is fixed to {name}, which stands first."
        if not order.link(before, made.structures[riser.id], because=because):
            draft.notes.append(Note(_before_its_pole(riser, name)))


def _same_place(one: Structure, other: Structure) -> bool:
    return one.alignment == other.alignment and abs(one.station - other.station) <= AT_POLE_FT


def _setters(setting: Setting, riser: Structure, poles: list[Structure]) -> list[OutsideWork]:
    """Return the outside work that sets the pole of a riser.

    That is what is done at its station; else what comes before work on its lines; else, where a pole stands there, all
    that has no place of its own.
    """
    setters = [w for w in setting.site.outside_work if w.kind == "set_pole"]
    here = [w for w in setters if _sets_at(w, riser)]
    unplaced = [w for w in setters if w.at is None]
    chain = OutsideOrder(setting)
    works = setting.outside
    for_its_lines = [
        w for w in unplaced if any(set(works[k].lines) & set(riser.lines) for k in chain.not_before(w.id) if k in works)
    ]
    return here or for_its_lines or (unplaced if poles else [])


def _sets_at(work: OutsideWork, riser: Structure) -> bool:
    at = work.at
    return (
        at is not None
        and at.alignment == riser.alignment
        and at.from_ - AT_POLE_FT <= riser.station <= at.to + AT_POLE_FT
    )


def _before_its_pole(riser: Structure, name: str) -> Finding:
    return Finding(
        "riser-before-pole",
        Severity.FIX,
        riser.name,
        f"It comes before {name}, because each waits for the other.",
        found="the riser set first",
        required=f"{name} set first",
        source=TRADE_ORDER,
        remedy="Look at what the pole and the riser wait for.",
    )


def _covered_before_live(
    setting: Setting, made: Made, order: SafeOrder, chain: OutsideOrder, work: OutsideWork
) -> None:
    """Let energising wait until loose ends are covered, and their shading seen, save where they stay guarded."""
    later = chain.not_before(work.id)
    before = [w for w in setting.site.outside_work if w.id == work.id or work.id in chain.not_before(w.id)]
    lines = {line for w in before for line in w.lines}
    for keep in setting.site.keep_open:
        event = setting.outside[keep.until]
        concerned = event in before or lines.intersection(event.lines)
        if event.id in later or keep.guarded or not concerned:
            continue
        for covered in _covered(made, keep, later):
            because = f"{work.name} waits until the end kept open for {event.name} is covered: nothing live lies bare."
            order.link(covered, outside_id(work.id), because=because, source=LIVE)
    for inspection in setting.site.inspections:
        for look in made.looks.get(inspection.id, ()) if inspection.stage == "shaded" else ():
            if lines.intersection(order.lines_of(look)):
                because = f"{work.name} waits until the shading over its lines has been seen."
                order.link(look, outside_id(work.id), because=because, source=LIVE)


def _covered(made: Made, keep: KeepOpen, later: frozenset[str]) -> Iterator[str]:
    for reach in made.reaches.values():
        for work in reach.pieces:
            if keep in work.piece.keeps and not work.piece.events & later:
                yield work.covered
