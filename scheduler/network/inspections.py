"""What is looked at at each stage of an inspection, and what waits for it."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.network.inspection_looks import Looker, add_visits, looker_of
from scheduler.network.kind import Kind
from scheduler.network.model import Activity
from scheduler.network.network_draft import SITE_FILE, NetworkDraft, Place
from scheduler.network.setting import INSPECTOR, LayGroup, Made, PieceWork, ReachWork, Setting
from scheduler.network.tested_together import BEFORE_COVER
from scheduler.site.ground import Line


def build_inspections(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Make the looks, holds and visit rules of every inspection, final ones apart."""
    makers = {
        "open_trench": _open_trench,
        "lines_laid": _lines_laid,
        "shaded": _shaded,
        "pressure_test": _pressure_test,
        "compaction": _compaction,
    }
    for inspection in setting.site.inspections:
        if inspection.stage == "final":
            continue
        looker = looker_of(setting, draft, made, inspection)
        for reach in setting.site.reaches:
            if not inspection.alignments or reach.alignment in inspection.alignments:
                makers[inspection.stage](looker, made.reaches[reach.id], reach.id)
        if inspection.stage == "pressure_test":
            _whole_line_tests(looker)
        add_visits(looker)


def _span(groups: Sequence[PieceWork]) -> Place:
    first, last = groups[0].piece, groups[-1].piece
    return Place(first.reach, first.alignment, first.from_ft, last.to_ft)


def _pieces(work: ReachWork, group: LayGroup) -> list[PieceWork]:
    """Return the pieces in which lines of a group lie, loose ends included."""
    return [p for p in work.pieces if p.piece in group.pieces or p.piece in group.loose]


def _open_trench(looker: Looker, work: ReachWork, reach: str) -> None:
    covered = looker.lines.intersection(looker.setting.ground.spans[reach])
    if not covered or not work.groups:
        return
    look = looker.look(
        reach, f"open trench, {looker.setting.where(looker.setting.ground.reaches[reach])}", _span(work.pieces)
    )
    looker.draft.link(work.opened, look, because="The trench is looked at when it is dug and bedded.")
    gates = [a for a in looker.draft.followers[work.opened] if looker.draft.activities[a].kind in (Kind.LAY, Kind.SET)]
    looker.hold(look, gates, gates)


def _lines_laid(looker: Looker, work: ReachWork, reach: str) -> None:
    for group in work.groups:
        covered = [line for line in group.lines if line in looker.lines]
        if not covered:
            continue
        look = _layer_look(looker, work, group, reach, covered)
        for line in covered:
            looker.draft.link(group.lays[line], look, because="The lines are looked at once they are laid.")
        for extra in group.extras:
            if looker.lines.intersection(looker.draft.activities[extra].lines):
                looker.draft.link(extra, look, because="Boxes, fittings and caps are in when the inspector looks.")
        _hold_shades(looker, work, group, look)


def _pressure_test(looker: Looker, work: ReachWork, reach: str) -> None:
    for group in work.groups:
        at_once = {k for k, id_ in group.tests.items() if not looker.draft.activities[id_].reach}
        covered = [line for line in group.lines if line in looker.lines and line not in at_once]
        if not covered:
            continue
        look = _layer_look(looker, work, group, reach, covered)
        for line_id in covered:
            line, test = looker.setting.ground.lines[line_id], group.tests.get(line_id)
            if test and line.test and line.test.kind in BEFORE_COVER:
                looker.draft.link(
                    test,
                    look,
                    lag=looker.setting.clock.ticks(hours=line.test.hold_hours),
                    because=f"The inspector reads the test of {line.name} once it has held {line.test.hold_hours:g} h.",
                    source=f"{SITE_FILE}: lines, test",
                )
            else:
                looker.draft.link(group.lays[line_id], look, because="The lines are looked at once they are laid.")
        _hold_shades(looker, work, group, look)


def _whole_line_tests(looker: Looker) -> None:
    """Look once at each test that goes over more than one reach of a line."""
    setting, made = looker.setting, looker.made
    for line in setting.site.lines:
        parts: dict[str, list[tuple[str, LayGroup]]] = {}
        for reach, group in made.line_groups.get(line.id, ()) if line.id in looker.lines else ():
            test = group.tests.get(line.id)
            if test and not looker.draft.activities[test].reach:
                parts.setdefault(test, []).append((reach, group))
        for test, groups in parts.items():
            _line_test_look(looker, line, looker.draft.activities[test], groups)


def _line_test_look(looker: Looker, line: Line, test: Activity, groups: list[tuple[str, LayGroup]]) -> None:
    setting, made = looker.setting, looker.made
    whole = not test.alignment
    place = Place("", test.alignment, test.from_ft, test.to_ft)
    where = "whole length" if whole else test.name.rpartition(", ")[2]
    scope = f"line/{line.id}{test.id.removeprefix(f'line/{line.id}/test')}"
    look = looker.look(scope, f"{line.name}, {where}", place, lines=[line.id])
    made.line_looks.setdefault(line.id, []).extend([(None, look)] if whole else [(g, look) for _, g in groups])
    looker.draft.occupy(look, INSPECTOR, looker.draft.also_in[test.id])
    hold_hours = line.test.hold_hours if line.test else 0.0
    looker.draft.link(
        test.id,
        look,
        lag=setting.clock.ticks(hours=hold_hours),
        because=f"The inspector reads the test of {line.name} once it has held {hold_hours:g} h.",
        source=f"{SITE_FILE}: lines, test",
    )
    pieces = [(group, p) for reach, group in groups for p in _pieces(made.reaches[reach], group)]
    looker.hold(
        look,
        [p.shades[group.layer] for group, p in pieces],
        [p.shades[group.layer] for group, p in pieces if _expires(looker, p)],
    )


def _layer_look(looker: Looker, work: ReachWork, group: LayGroup, reach: str, covered: list[str]) -> str:
    names = looker.setting.line_names(covered)
    pieces = _pieces(work, group)
    where = looker.setting.where(looker.setting.ground.reaches[reach] if group.id == reach else group.pieces[0])
    look = looker.look(
        f"{group.id}/L{group.layer}", f"{names}, {where}", _span(pieces), lines=covered, layer=group.layer
    )
    for line in covered:
        looker.made.line_looks.setdefault(line, []).append((group, look))
    return look


def _expires(looker: Looker, piece: PieceWork) -> bool:
    """Tell whether a pass before the event of a kept-open piece expires there as it does elsewhere."""
    return not piece.piece.keeps or not looker.inspection.pass_stands_while_kept_open


def _hold_shades(looker: Looker, work: ReachWork, group: LayGroup, look: str) -> None:
    """Hold the shading of a layer."""
    pieces = _pieces(work, group)
    if group.later:
        looker.made.waits[look] = group.later
    looker.hold(
        look,
        [p.shades[group.layer] for p in pieces],
        [p.shades[group.layer] for p in pieces if _expires(looker, p)],
    )


def _shaded(looker: Looker, work: ReachWork, _: str) -> None:
    """Look at shading: one look for what is covered together, one for each kept-open piece."""
    for group in work.groups:
        covered = [line for line in group.lines if line in looker.lines]
        pieces = [p for p in work.pieces if p.piece in group.pieces]
        free = [p for p in pieces if not p.piece.keeps]
        for part in ([free] if free else []) + [[p] for p in pieces if p.piece.keeps]:
            if covered:
                _shaded_look(looker, work, group, part, covered, whole=part == work.pieces)


def _shaded_look(
    looker: Looker, work: ReachWork, group: LayGroup, part: list[PieceWork], covered: list[str], *, whole: bool
) -> None:
    reach, layer = part[0].piece.reach, group.layer
    scope = reach if whole or not part[0].piece.keeps else part[0].piece.id
    where = looker.setting.where(looker.setting.ground.reaches[reach] if whole else part[0].piece)
    look = looker.look(
        f"{scope}/L{layer}",
        f"shading over {looker.setting.line_names(covered)}, {where}",
        _span(part),
        lines=covered,
        layer=layer,
    )
    if part[0].piece.keeps:
        looker.made.waits[look] = part[0].piece.events
    gates: list[str] = []
    for p in part:
        looker.draft.link(p.shades[layer], look, because="The shading is looked at once it is in.")
        gates += buries(work, p, layer)
    held = looker.setting.held_from(part[0].piece)
    after_event = held is not None and layer >= held
    looker.hold(look, gates, gates if after_event or _expires(looker, part[0]) else [])


def buries(work: ReachWork, piece: PieceWork, layer: int) -> list[str]:
    """Return what hides the shading of a layer in a piece: fill, or the next layer's lines."""
    if layer in piece.after_shade:
        return [piece.after_shade[layer]]
    above = [g for g in work.groups if g.layer > layer and piece.piece in g.pieces]
    lowest = min((g.layer for g in above), default=layer)
    return [lay for g in above if g.layer == lowest for lay in g.lays.values()]


def _compaction(looker: Looker, work: ReachWork, reach: str) -> None:
    if not looker.lines.intersection(looker.setting.ground.spans[reach]):
        return
    free = [p for p in work.pieces if not p.piece.keeps]
    for part in ([free] if free else []) + [[p] for p in work.pieces if p.piece.keeps]:
        whole = part == work.pieces
        scope = reach if whole or not part[0].piece.keeps else part[0].piece.id
        where = looker.setting.where(looker.setting.ground.reaches[reach] if whole else part[0].piece)
        look = looker.look(scope, f"compacted fill, {where}", _span(part))
        if part[0].piece.keeps:
            looker.made.waits[look] = part[0].piece.events
        for p in part:
            looker.draft.link(p.compaction or p.covered, look, because="The fill is looked at once it is compacted.")
        gates = [p.restored for p in part if p.restored]
        looker.hold(look, gates, gates)
