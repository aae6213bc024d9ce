"""One reach put together: opened, its layers, its pieces covered."""

from __future__ import annotations

from collections.abc import Iterable

from scheduler.network.cover_work import build_cover
from scheduler.network.layer_work import BESIDE, build_beside, build_fill, build_layer, set_structure
from scheduler.network.network_draft import NetworkDraft
from scheduler.network.reach_work import Here, begin_reach
from scheduler.network.setting import Made, PieceWork, Setting
from scheduler.site.ground import ExistingLine, Reach, Structure
from scheduler.units import TOUCH_FT


def build_reach(
    setting: Setting, draft: NetworkDraft, made: Made, reach: Reach, crossings: Iterable[ExistingLine]
) -> None:
    """Make all work of one reach, inspections and outside work apart."""
    here = begin_reach(setting, draft, reach, crossings, made.structures)
    structures = setting.structures_in.get(reach.id, [])
    in_trench = [s for s in structures if s.kind not in BESIDE]
    below = {p.id: here.work.opened for p in setting.ground.pieces[reach.id]}
    pieces = {p.id: PieceWork(p) for p in setting.ground.pieces[reach.id]}
    tops = _tops(here)
    for layer in here.section.layers:
        own = [s for s in in_trench if _layer_of(here, s) == layer.index]
        build_layer(here, layer, below, own)
        in_trench = [s for s in in_trench if s.id not in here.setting_of]
        for group in (g for g in here.work.groups if g.layer == layer.index):
            for piece, shade in zip(group.pieces, group.shades, strict=True):
                work = pieces[piece.id]
                work.shades[layer.index] = shade
                if layer.index < (tops[piece.id] or 0):
                    fill = build_fill(here, work, layer.index, here.of_piece(piece), group.lines)
                    below[piece.id] = fill or shade
    for id_, work in pieces.items():
        build_cover(here, work, tops[id_], below[id_])
        here.work.pieces.append(work)
    _leftovers(here, in_trench)
    build_beside(here, [s for s in structures if s.kind in BESIDE])
    made.reaches[reach.id] = here.work
    for group in here.work.groups:
        made.waits.update(dict.fromkeys(group.extras, group.later))
        for line in group.lines:
            made.line_groups.setdefault(line, []).append((reach.id, group))


def _tops(here: Here) -> dict[str, int | None]:
    """Return the highest layer with lines in each piece, None where there is none."""
    ground = here.setting.ground
    out: dict[str, int | None] = {}
    for piece in ground.pieces[here.reach.id]:
        held = [
            layer.index
            for layer in here.section.layers
            if any(ground.feet(line, [piece]) > TOUCH_FT for line in layer.lines)
        ]
        out[piece.id] = max(held, default=None)
    return out


def _layer_of(here: Here, structure: Structure) -> int | None:
    """Return the highest layer that holds a line of a structure; the highest of all if none does."""
    own = [layer.index for layer in here.section.layers if set(layer.lines).intersection(structure.lines)]
    return max(own, default=max((layer.index for layer in here.section.layers), default=None))


def _leftovers(here: Here, structures: list[Structure]) -> None:
    """Set structures that stand where no line of a layer lies: after the dig, before the lifts."""
    for structure in structures:
        id_ = set_structure(here, structure, [here.work.opened], None)
        for work in here.work.pieces:
            if work.piece.from_ft - TOUCH_FT <= structure.station <= work.piece.to_ft + TOUCH_FT:
                here.draft.link(id_, work.covered, because=f"{structure.name} stands before the fill goes round it.")
