"""The user's own steps, each between two stages of the work in a stretch or of the whole site."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from scheduler.findings import Finding, Severity
from scheduler.network.inspections import buries
from scheduler.network.kind import Kind
from scheduler.network.model import Hold, Note
from scheduler.network.network_draft import SITE_FILE, Doing, NetworkDraft, Place
from scheduler.network.outside import party_id
from scheduler.network.setting import MACHINE, LayGroup, Made, PieceWork, ReachWork, Setting, crew_id, machine_id
from scheduler.site.ground import Reach
from scheduler.site.own_work import STAGES, OwnWork, Stage
from scheduler.site.site_record import Site

OPENED: tuple[Stage, ...] = STAGES[: STAGES.index("lay")]
IN_LAYER: tuple[Stage, ...] = ("lay", "test", "inspect", "shade")
BEFORE_FILL: tuple[Stage, ...] = ("lay", "test", "inspect", "shade", "fill")
_OPENING = {"surface_cut": "cut", "expose": "pothole", "dig": "dig", "protect": "protect", "bed": "bed"}


@dataclass(frozen=True, slots=True)
class Scope:
    """One place where a step is done: a reach, one layer of it, or the pieces of it that are covered together."""

    tail: str
    """The end of its id."""
    reach: Reach
    work: ReachWork
    groups: tuple[LayGroup, ...]
    pieces: tuple[PieceWork, ...]
    layer: int | None = None

    @property
    def place(self) -> Place:
        """Where it is."""
        first, last = self.pieces[0].piece, self.pieces[-1].piece
        return Place(first.reach, first.alignment, first.from_ft, last.to_ft)


@dataclass(frozen=True, slots=True)
class Stages:
    """Finds the activities of a stage, as far as they are made."""

    setting: Setting
    draft: NetworkDraft
    made: Made

    def at(self, scope: Scope, stage: Stage, *, ends: bool) -> dict[str, int]:
        """Return the activities of a stage in a place, each with the ticks to wait after it.

        `ends`: those by which the stage is over, rather than those with which it begins.
        """
        if stage in _OPENING:
            id_ = f"{scope.reach.id}/{_OPENING[stage]}"
            return {id_: 0} if id_ in self.draft.activities else {}
        found: dict[Stage, Iterable[str]] = {
            "inspect": self._looks(scope),
            "shade": (p.shades[g.layer] for g in scope.groups for p in scope.pieces if p.piece in g.pieces),
            "fill": (p.covered for p in scope.pieces) if ends else self._fills(scope),
            "compaction": (p.compaction for p in scope.pieces if p.compaction),
            "restore": (p.finished if ends else p.restored for p in scope.pieces if p.restored),
            "final": self._finals(scope),
        }
        if stage == "lay":
            return dict.fromkeys((k for g in scope.groups for k in (*g.lays.values(), *g.extras)), 0)
        if stage == "test":
            return self._tests(scope, ends=ends)
        return dict.fromkeys(found[stage], 0)

    def _tests(self, scope: Scope, *, ends: bool) -> dict[str, int]:
        held: dict[str, int] = {}
        for group in scope.groups:
            for line, test in group.tests.items():
                spec = self.setting.ground.lines[line].test
                wait = self.setting.clock.ticks(hours=spec.hold_hours) if spec and ends else 0
                held[test] = max(wait, held.get(test, 0))
        return held

    def _looks(self, scope: Scope) -> list[str]:
        lines = {line for group in scope.groups for line in group.lines}
        return [
            look
            for line in sorted(lines)
            for at, look in self.made.line_looks.get(line, ())
            if at is None or any(at is group for group in scope.groups)
        ]

    def _fills(self, scope: Scope) -> list[str]:
        """Return what first hides the shading of each layer; where nothing is laid, the fill."""
        over = [
            (p, g.layer) for g in scope.groups for p in scope.pieces if p.piece in g.pieces and p.shades.get(g.layer)
        ]
        return [id_ for p, layer in over for id_ in buries(scope.work, p, layer)] or [p.covered for p in scope.pieces]

    def _finals(self, scope: Scope) -> list[str]:
        finals = [i for i in self.setting.site.inspections if i.stage == "final"]
        kept = any(p.piece.keeps for p in scope.pieces)
        here = [i.id for i in finals if not i.alignments or scope.reach.alignment in i.alignments]
        return [] if kept else [look for i in here for look in self.made.looks.get(i, ())]

    def nearest(self, scope: Scope, stage: Stage, *, ends: bool) -> dict[str, int]:
        """Return the activities of a stage, or of the nearest before it (`ends`) or after it that a place has."""
        at = STAGES.index(stage)
        for other in reversed(STAGES[: at + 1]) if ends else STAGES[at:]:
            if found := self.at(scope, other, ends=ends):
                return found
        return {}


def build_own(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Make the steps of own work; everything between which they stand is made before."""
    for step in setting.site.own_work:
        reaches = [r for r in setting.site.reaches if _here(setting, step, r)]
        scopes = [scope for reach in reaches for scope in scopes_of(step, reach, made.reaches[reach.id])]
        if step.once:
            _add(setting, draft, made, step, scopes)
        else:
            for scope in scopes:
                _add(setting, draft, made, step, [scope])


def _here(setting: Setting, step: OwnWork, reach: Reach) -> bool:
    lies = not step.lines or bool(set(step.lines).intersection(setting.ground.spans[reach.id]))
    return lies and (not step.reaches or reach.id in step.reaches)


def scopes_of(step: OwnWork, reach: Reach, work: ReachWork) -> Iterator[Scope]:
    """Yield the places in a reach where a step is done: per layer before cover, per piece after it, else the reach."""
    pieces = tuple(work.pieces)
    groups = tuple(g for g in work.groups if not step.lines or set(step.lines).intersection(g.lines))
    if step.after in IN_LAYER and step.before in BEFORE_FILL and not step.once:
        for group in groups:
            shaded = tuple(p for p in pieces if p.piece in group.pieces)
            name = f"L{group.layer}" if group.id == reach.id else f"L{group.layer}/{_within(reach, group)}"
            # A piece kept open is shaded only after its event, which may wait for the others to be filled.
            for part in _parts(shaded) if step.after == "shade" else [shaded] * bool(shaded):
                kept = f"/{part[0].piece.id}" if part[0].piece.keeps and len(part) < len(shaded) else ""
                yield Scope(f"{reach.id}/{name}{kept}", reach, work, (group,), part, group.layer)
        return
    if step.after is None or step.after in OPENED or step.once:
        yield Scope(reach.id, reach, work, groups, pieces)
        return
    for part in _parts(pieces):
        over = tuple(g for g in groups if any(p.piece in g.pieces for p in part))
        yield Scope(part[0].piece.id if part[0].piece.keeps else reach.id, reach, work, over, part)


def _parts(pieces: tuple[PieceWork, ...]) -> list[tuple[PieceWork, ...]]:
    """Return the pieces that are covered together, then each that is kept open by itself."""
    free = tuple(p for p in pieces if not p.piece.keeps)
    return [free] * bool(free) + [(p,) for p in pieces if p.piece.keeps]


def _within(reach: Reach, group: LayGroup) -> str:
    return group.id.removeprefix(f"{reach.id}:")


def _add(setting: Setting, draft: NetworkDraft, made: Made, step: OwnWork, scopes: list[Scope]) -> None:
    if not scopes:
        return
    stages = Stages(setting, draft, made)
    alone = scopes[0] if not step.once else None
    first: dict[str, int] = {}
    for scope in scopes:
        first |= stages.nearest(scope, step.after, ends=True) if step.after else {}
    then = [k for scope in scopes if step.before for k in stages.nearest(scope, step.before, ends=False)]
    feet = sum(p.piece.length_ft for scope in scopes for p in scope.pieces)
    where = f", {_where(setting, alone)}" if alone else ""
    id_ = draft.add(
        f"own/{step.id}/{alone.tail}" if alone else f"own/{step.id}",
        f"{step.name}{where}",
        Kind.CHECK if step.gate or step.released_by else Kind.SITE,
        step.hours or feet / (step.feet_per_hour or feet),
        _doing(setting, step, alone.reach if alone else None),
        because=step.because or f"The site file asks for it{_between(step)}.",
        source=f"{SITE_FILE}: own_work",
        place=alone.place if alone else None,
        lines=[k for g in alone.groups for k in g.lines] if alone and alone.layer is not None else step.lines,
        layer=alone.layer if alone else None,
    )
    for before, lag in first.items():
        draft.link(before, id_, lag=lag, because=f"{step.name} comes after this.", source=f"{SITE_FILE}: own_work")
    for after in dict.fromkeys(then):
        draft.link(id_, after, because=f"{step.name} comes first.", source=f"{SITE_FILE}: own_work")
    if step.before and not then:
        draft.notes.append(_not_awaited(setting, step, alone))
    if step.released_by and then:
        _hold(draft, step, id_, tuple(dict.fromkeys(then)))


def _not_awaited(setting: Setting, step: OwnWork, alone: Scope | None) -> Note:
    finding = Finding(
        rule="own-work-not-awaited",
        severity=Severity.NOTE,
        where=_where(setting, alone) if alone else "the site",
        text=f"Nothing waits for {step.name} here: neither the stage '{step.before}' nor a later one comes.",
        source=f"{SITE_FILE}: own_work, before",
        remedy="an earlier stage in `before`, or `reaches` that have it",
    )
    return Note(finding, (alone.reach.id,) if alone else ())


def _where(setting: Setting, scope: Scope) -> str:
    whole = len(scope.pieces) == len(scope.work.pieces)
    name = setting.where(scope.reach if whole else scope.pieces[0].piece)
    return f"{setting.line_names(scope.groups[0].lines)}, {name}" if scope.layer is not None else name


def _between(step: OwnWork) -> str:
    said = [f"{word} the stage '{stage}'" for word, stage in (("after", step.after), ("before", step.before)) if stage]
    return f" {' and '.join(said)}" if said else ""


def _doing(setting: Setting, step: OwnWork, reach: Reach | None) -> Doing:
    """Return who does a step, with what, and by which hours."""
    calendars = [step.calendar] if step.calendar else []
    needs: dict[str, int] = {}
    trade = "" if step.by else step.trade or setting.site.general_trade.id
    machine = next((e for e in setting.site.equipment if e.id == step.machine), None)
    for crew in dict.fromkeys(c for c in (trade, machine.trade if machine else None) if c):
        calendars.append(setting.trades[crew].calendar)
        needs[crew_id(crew)] = 1
    if step.by:
        needs[party_id(step)] = 1
    if machine:
        calendars.append(machine.calendar)
        needs[machine_id(machine.id)] = 1
    inside = step.in_trench and reach is not None
    calendar = setting.hours_in(calendars, reach if inside else None, in_trench=inside)
    group = (MACHINE if machine else trade or step.by or "") if inside else ""
    return Doing(trade, tuple(needs.items()), calendar, group)


def stranger(site: Site, activity: str) -> str:
    """Return who from outside does an activity of own work, by its id; '' for every other activity."""
    return next((s.by for s in site.own_work if s.by and activity.split("/")[:2] == ["own", s.id]), "")


def _hold(draft: NetworkDraft, step: OwnWork, id_: str, gates: tuple[str, ...]) -> None:
    activity = draft.activities[id_]
    draft.holds.append(
        Hold(
            id=f"hold/{id_}",
            kind="hold",
            name=activity.name,
            look=id_,
            gates=gates,
            reaches=(activity.reach,) if activity.reach else (),
            lines=activity.lines,
            layer=activity.layer,
            released_by=step.released_by or "",
            criteria=f"{step.name} is done.",
            because=step.because or f"What follows waits until {step.name} is done and released.",
            source=f"{SITE_FILE}: own_work",
        )
    )
