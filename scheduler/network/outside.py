"""What others do: outside work, what it needs first, keep-open holds, and final inspections."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import networkx as nx

from scheduler.network.inspection_looks import add_visits, looker_of
from scheduler.network.kind import Kind
from scheduler.network.line_ends import line_ends
from scheduler.network.model import DateRole, DateRule, Hold
from scheduler.network.network_draft import SITE_FILE, TRADE_ORDER, Doing, NetworkDraft, Place
from scheduler.network.pieces import overlap
from scheduler.network.setting import LayGroup, Made, PieceWork, Setting
from scheduler.network.tested_together import BEFORE_COVER
from scheduler.site.ground import KeepOpen, Reach, Stretch
from scheduler.site.own_work import OwnWork
from scheduler.site.people import Inspection, OutsideWork
from scheduler.spoken import count, moment

KINDS: Mapping[str, Kind] = {"cutover": Kind.CUTOVER, "remove": Kind.REMOVE}
IN_CONDUIT = ("pull_service", "tie_in", "terminate", "activate", "energise")
"""Outside work that goes through a conduit or ends in it: the conduit is proved first."""
ON_CONDUCTORS = ("tie_in", "terminate", "activate", "set_meter", "energise", "cutover")
"""Outside work that needs the site's own conductors in place."""


def outside_id(work: str) -> str:
    """Return the activity id of outside work."""
    return f"outside/{work}"


def party_id(work: OutsideWork | OwnWork) -> str:
    """Return the resource id of the party from outside that does some work."""
    return f"outside/{work.by}"


class OutsideOrder:
    """Which outside work comes after which, final inspections included."""

    def __init__(self, setting: Setting) -> None:
        graph: nx.DiGraph[str] = nx.DiGraph()
        finals = {i.id for i in setting.site.inspections if i.stage == "final"}
        for work in setting.site.outside_work:
            graph.add_node(work.id)
            graph.add_edges_from((before, work.id) for before in work.after)
            graph.add_edges_from((f"final/{i}", work.id) for i in work.needs_inspections if i in finals)
        self._later = {node: frozenset(nx.descendants(graph, node)) for node in graph}

    def not_before(self, work: str) -> frozenset[str]:
        """Return outside work and all that follows it: it cannot wait for any of these."""
        return self._later.get(work, frozenset()) | {work}

    def after_final(self, inspection: str) -> frozenset[str]:
        """Return the outside work that waits for a final inspection."""
        return self._later.get(f"final/{inspection}", frozenset())


@dataclass(frozen=True, slots=True)
class OutsideStep:
    """One piece of outside work while what it needs first is being drawn."""

    setting: Setting
    draft: NetworkDraft
    made: Made
    work: OutsideWork
    later: frozenset[str]
    """The work itself and all that follows it: it cannot wait for what waits for these."""

    def after(self, before: str, *, because: str, source: str = TRADE_ORDER, lag: int = 0) -> None:
        """Let the work wait for an activity."""
        self.draft.link(before, outside_id(self.work.id), lag=lag, because=because, source=source)


def build_outside(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Make outside work, the final inspections, and everything that ties them to the trench."""
    chain = OutsideOrder(setting)
    for work in setting.site.outside_work:
        _activity(setting, draft, work)
    for inspection in setting.site.inspections:
        if inspection.stage == "final":
            _final(setting, draft, made, inspection, chain)
    for work in setting.site.outside_work:
        step = OutsideStep(setting, draft, made, work, chain.not_before(work.id))
        for before in work.after:
            because = f"{setting.outside[before].name} comes first."
            step.after(outside_id(before), because=because, source=f"{SITE_FILE}: outside_work")
        _lines_ready(step)
        _passed(step)
    for keep in setting.site.keep_open:
        _keep_open(setting, draft, made, keep)


def _activity(setting: Setting, draft: NetworkDraft, work: OutsideWork) -> None:
    at = _where(setting, work)
    reaches = _occupied(setting, at)
    place = Place(reaches[0].id, at.alignment, at.from_, at.to) if at and reaches else Place()
    ticks = setting.clock.ticks(hours=work.hours)
    calendars = [work.calendar]
    needs = [(party_id(work), 1)]
    if work.trade:
        crew = setting.crew(work.trade, None)
        calendars.append(setting.trades[work.trade].calendar)
        needs = list(crew.needs)
    if work.offered:
        starts = ", ".join(moment(s) for s in sorted(work.offered))
        calendar = setting.hours.offered(f"offered to {work.id}", f"{work.by}, offered {starts}", work.offered, ticks)
    else:
        calendar = setting.hours.shared(calendars)
    group = (work.trade or work.by) if reaches else ""
    outage = " while service is off, in an agreed outage" if work.outage else ""
    id_ = draft.add(
        outside_id(work.id),
        work.name,
        KINDS.get(work.kind, Kind.OUTSIDE),
        work.hours,
        Doing(work.trade or "", tuple(needs), calendar, group),
        because=f"{work.by} does this{outage}.",
        source=f"{SITE_FILE}: outside_work",
        place=place,
        lines=work.lines,
        one_window=work.one_window or bool(work.offered) or work.outage,
    )
    draft.also_in[id_] = tuple(r.id for r in reaches)
    if at is None and work.not_at_trench is None:
        ends = [end for line in work.lines for end in line_ends(setting.ground.lines[line], setting.branches)]
        draft.stands[id_] = tuple(dict.fromkeys(ends))
    not_before = setting.hours.after_notice(work.calendar, setting.data_date, work.notice_days)
    if not_before > setting.data_date:
        draft.dates.append(
            DateRule(
                f"notice/{id_}",
                id_,
                not_before,
                role=DateRole.NOTICE,
                because=f"{work.by} asks for {count(work.notice_days, 'working day')} of notice.",
                source=f"{SITE_FILE}: outside_work, notice_days",
            )
        )


def _where(setting: Setting, work: OutsideWork) -> Stretch | KeepOpen | None:
    """Return the stretch that outside work occupies: its own, or the one that is kept open for it."""
    return work.at or next((keep for keep in setting.site.keep_open if keep.until == work.id), None)


def _occupied(setting: Setting, at: Stretch | KeepOpen | None) -> list[Reach]:
    """Return the reaches that a stretch lies in."""
    if at is None:
        return []
    ends = (at.from_, at.to)
    return [r for r in setting.ground.along(at.alignment, *ends) if overlap(ends, (r.from_, r.to))]


def _final(setting: Setting, draft: NetworkDraft, made: Made, inspection: Inspection, chain: OutsideOrder) -> None:
    """Make the final look at finished lines, which releases the outside work that needs it."""
    looker = looker_of(setting, draft, made, inspection)
    lines = [line.id for line in setting.site.lines if line.id in looker.lines and line.id in made.line_groups]
    whole = len(lines) == len(setting.site.lines)
    look = looker.look("all", "the finished work" if whole else setting.line_names(lines), Place(), lines=lines)
    ends = (end for line in lines for end in line_ends(setting.ground.lines[line], setting.branches))
    draft.stands[look] = tuple(e for e in ends if not inspection.alignments or e[0] in inspection.alignments)
    later = chain.after_final(inspection.id)
    reaches = {r for line in lines for r, _ in made.line_groups[line]}
    if inspection.alignments:
        reaches = {r for r in reaches if setting.ground.reaches[r].alignment in inspection.alignments}
    for reach in (r.id for r in setting.site.reaches if r.id in reaches):
        for work in made.reaches[reach].pieces:
            if not work.piece.events & later:
                because = "A final inspection looks at finished ground."
                draft.link(work.finished, look, because=because)
        for group in made.reaches[reach].groups:
            open_for_it = any(p.events & later for p in (*group.pieces, *group.loose))
            if open_for_it and not group.later & later:
                for line in (k for k in lines if k in group.lays):
                    draft.link(group.lays[line], look, because="A final inspection looks at finished lines.")
    for id_ in _density_looks(setting, made, reaches, later):
        draft.link(id_, look, because="Compaction has passed before the final inspection.")
    for id_ in made.possible(_finishing(draft, made, lines), later):
        draft.link(id_, look, because="A final inspection looks at finished lines.")
    gates = [outside_id(w.id) for w in setting.site.outside_work if inspection.id in w.needs_inspections]
    looker.hold(look, gates, gates)
    add_visits(looker)


def _density_looks(setting: Setting, made: Made, reaches: Iterable[str], later: frozenset[str]) -> list[str]:
    """Return the looks at compacted fill in some reaches."""
    stages = [i.id for i in setting.site.inspections if i.stage == "compaction"]
    looks = [k for r in sorted(reaches) for i in stages for k in made.looks_at.get((i, r), ())]
    return made.possible(looks, later)


def _finishing(draft: NetworkDraft, made: Made, lines: Iterable[str]) -> list[str]:
    """Return what finishes lines after they are laid: structures, proofs, conductors, tests."""
    wanted = set(lines)
    out = [id_ for id_ in made.structures.values() if wanted.intersection(draft.activities[id_].lines)]
    for line in wanted:
        out += [*made.proofs.get(line, ()), *made.pulls.get(line, ()), *made.checks.get(line, ())]
    return sorted(out)


def _lines_ready(step: OutsideStep) -> None:
    """Let outside work wait until its lines are as far as it asks, save where they lie open for it."""
    work, made = step.work, step.made
    if work.lines_state == "none":
        return
    for line in work.lines:
        name = step.setting.ground.lines[line].name
        for reach, group in made.line_groups.get(line, ()):
            if group.later & step.later:
                continue
            for before, lag, state in _part_ready(step, line, reach, group):
                because, source = f"{work.name} needs {name} {state}.", f"{SITE_FILE}: outside_work, lines_state"
                step.after(before, lag=lag, because=because, source=source)
        if work.kind in IN_CONDUIT:
            for proof in made.possible(made.proofs.get(line, ()), step.later):
                step.after(proof, because=f"The run is proved clear first: {name}.")
        if work.kind in ON_CONDUCTORS:
            for pull in made.possible(made.pulls.get(line, ()), step.later):
                step.after(pull, because=f"The conductors of {name} are in place first.")
        if work.lines_state == "covered":
            for check in made.possible(made.checks.get(line, ()), step.later):
                step.after(check, because=f"The test from end to end comes first: {name}.")


def _part_ready(step: OutsideStep, line: str, reach: str, group: LayGroup) -> list[tuple[str, int, str]]:
    """Return what outside work waits for in one lay group of a line, as (activity, lag, state).

    What an activity implies is left out: cover implies that all before it was done.
    """
    state = step.work.lines_state
    lying = [p for p in step.made.reaches[reach].pieces if _holds(step.setting, line, p)]
    covered = [p for p in lying if not p.piece.events & step.later] if state == "covered" else []
    out = [(p.covered, 0, "covered") for p in covered]
    if covered and len(covered) == len(lying):
        return out
    passed = _before_cover(step, line, group) if state != "laid" else []
    return out + (passed or [(group.lays[line], 0, "laid")])


def _holds(setting: Setting, line: str, piece: PieceWork) -> bool:
    return setting.ground.feet(line, [piece.piece]) > 0


def _before_cover(step: OutsideStep, line: str, group: LayGroup) -> list[tuple[str, int, str]]:
    """Return looks, tests (with their holds) and fittings of a line in one group."""
    out = [(extra, 0, "fitted") for extra in group.extras if line in step.draft.activities[extra].lines]
    test = step.setting.ground.lines[line].test
    if line in group.tests and test and test.kind in BEFORE_COVER:
        out.append((group.tests[line], step.setting.clock.ticks(hours=test.hold_hours), "tested"))
    seen = [k for at, k in step.made.line_looks.get(line, ()) if at is None or at is group]
    return out + [(k, 0, "passed") for k in step.made.possible(seen, step.later)]


def _passed(step: OutsideStep) -> None:
    """Let outside work wait for the inspections it needs, on its own lines where it names some."""
    inspections = {i.id: i for i in step.setting.site.inspections}
    for id_ in step.work.needs_inspections:
        if inspections[id_].stage == "final":
            continue  # its hold gates the work
        looks = step.made.possible(step.made.looks.get(id_, ()), step.later)
        own = [k for k in looks if set(step.draft.activities[k].lines).intersection(step.work.lines)]
        for look in own or looks:
            step.after(
                look,
                because=f"{step.work.name} waits for a pass of {inspections[id_].name}.",
                source=f"{SITE_FILE}: outside_work, needs_inspections",
            )


def _keep_open(setting: Setting, draft: NetworkDraft, made: Made, keep: KeepOpen) -> None:
    """Hold the cover of a kept-open stretch until its event."""
    gates: list[str] = []
    reaches: dict[str, None] = {}
    for reach in setting.ground.along(keep.alignment, keep.from_, keep.to):
        for work in made.reaches[reach.id].pieces:
            if keep not in work.piece.keeps:
                continue
            held = setting.held_layer(work.piece, keep)
            waiting = [k for k in sorted(work.shades) if held is not None and k >= held]
            gates.append(work.shades[waiting[0]] if waiting else work.covered)
            reaches[reach.id] = None
    event = setting.outside[keep.until]
    draft.holds.append(
        Hold(
            id=f"hold/{keep.id}",
            kind="hold",
            name=f"Keep open until: {event.name}",
            look=outside_id(keep.until),
            gates=tuple(gates),
            reaches=tuple(reaches),
            lines=tuple(event.lines),
            released_by=keep.released_by or "",
            criteria=f"{event.name} is done.",
            because=keep.because,
            source=f"{SITE_FILE}: keep_open",
        )
    )
