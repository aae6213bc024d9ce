"""The layers of one reach, from the bottom up: lay, set, cap, test, shade, fill to the next."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.network import work_hours
from scheduler.network.kind import Kind
from scheduler.network.network_draft import SITE_FILE, TRADE_ORDER
from scheduler.network.pieces import Piece
from scheduler.network.reach_work import Here
from scheduler.network.setting import MACHINE, LayGroup, PieceWork
from scheduler.network.tested_together import BEFORE_COVER
from scheduler.site.ground import Line, Structure
from scheduler.trench.rules.proof_rules import make_up_said
from scheduler.trench.section_records import Layer, Quantities
from scheduler.units import TOUCH_FT, format_length, format_volume

BEFORE_LINES = ("manhole", "vault")
"""Set first: the lines run into them."""
BESIDE = ("panel", "pole", "pedestal", "pad", "light", "gate")
"""Stand beside the trench and do not wait for its cover, nor it for them."""
HEAVY = ("manhole", "vault", "pad", "light")
"""Set with the lifting machine, where the site has one."""
LAID_AND_CURED = "The line is laid and its joints have cured before the test."
FITTED = "What hangs on the line is fitted before the test."


def tested_before_cover(line: Line) -> str:
    """Return what asks for a line to be tested before it is covered."""
    return "IFGC 406 (test of gas piping)" if line.kind == "gas" else "IPC 312 (tested before it is covered)"


def lay_groups(here: Here, layer: Layer) -> list[LayGroup]:
    """Return the groups of pieces in which a layer is laid in one go, without activities yet."""
    setting = here.setting

    def lying(pieces: Sequence[Piece]) -> tuple[str, ...]:
        return tuple(line for line in layer.lines if setting.ground.feet(line, pieces) > TOUCH_FT)

    held = {p.id: setting.held_from(p) for p in setting.ground.pieces[here.reach.id]}
    waiting = [p for p in setting.ground.pieces[here.reach.id] if (h := held[p.id]) is not None and h < layer.index]
    together = tuple(p for p in setting.ground.pieces[here.reach.id] if p not in waiting)
    loose = {p.id: tuple(line for line in lying([p]) if line in setting.loose_lines(p)) for p in waiting}
    with_loose = tuple(p for p in waiting if loose[p.id])
    first = set(lying(together)).union(*loose.values())
    groups = []
    if first:
        lines = tuple(line for line in layer.lines if line in first)
        shaded = tuple(p for p in together if lying([p]))
        groups.append(LayGroup(here.reach.id, layer.index, shaded, lines, loose=with_loose))
    for piece in waiting:
        if lying([piece]):
            lines = tuple(line for line in lying([piece]) if line not in loose[piece.id])
            groups.append(LayGroup(f"{piece.id}:later", layer.index, (piece,), lines, later=piece.events))
    return groups


def build_layer(here: Here, layer: Layer, below: dict[str, str], structures: list[Structure]) -> None:
    """Make a layer of a reach: everything up to its shading, in each of its groups.

    `below` names the activity each piece must wait for, and is left at the piece's shading;
    `structures` are those that belong to this layer.
    """
    lays: dict[str, str] = {}
    tests: dict[str, str] = {}
    for group in lay_groups(here, layer):
        here.work.groups.append(group)
        ends = [(p.from_ft, p.to_ft) for p in (*group.pieces, *group.loose)]
        own = [s for s in structures if s.id not in here.setting_of and _stands_in(s, ends)]
        starts = list(dict.fromkeys(below[p.id] for p in group.pieces)) or [here.work.opened]
        set_first = [set_structure(here, s, starts, group) for s in own if s.kind in BEFORE_LINES]
        for line in group.lines:
            _lay(here, group, here.setting.ground.lines[line], set_first or starts)
        lays.update(group.lays)
        for structure in own:
            if structure.kind not in BEFORE_LINES:
                after = [lays[line] for line in structure.lines if line in lays]
                group.extras.append(set_structure(here, structure, after or starts, group))
        _finish_lines(here, group)
        tests.update(group.tests)
        for piece in group.pieces:
            shade = _shade(here, group, piece, lays, tests)
            if not group.lays:
                here.draft.link(below[piece.id], shade, because="A layer is covered once the one below it is.")
            below[piece.id] = shade


def _stands_in(structure: Structure, ends: Sequence[tuple[float, float]]) -> bool:
    return any(a - TOUCH_FT <= structure.station <= b + TOUCH_FT for a, b in ends)


def _feet(here: Here, group: LayGroup, line: str) -> float:
    """Return the feet of a line laid with a group, loose ends included."""
    loose = [p for p in group.loose if line in here.setting.loose_lines(p)]
    return here.setting.ground.feet(line, [*group.pieces, *loose])


def _lay(here: Here, group: LayGroup, line: Line, after: Sequence[str]) -> None:
    feet = _feet(here, group, line.id)
    hours, source = work_hours.lay_hours(line, here.setting.trades[line.trade], feet, here.setting.site.rates)
    bank = f" ({line.count} side by side)" if line.count > 1 else ""
    id_ = here.draft.add(
        f"{group.id}/L{group.layer}/lay-{line.id}",
        f"Lay {line.name}, {_place_name(here, group)}",
        Kind.LAY,
        hours,
        here.setting.crew(line.trade, here.reach),
        because=f"{format_length(feet)} of {line.name}{bank} lie in this part of the trench.",
        source=source,
        place=here.place,
        lines=[line.id],
        layer=group.layer,
    )
    group.lays[line.id] = id_
    for before in after:
        here.draft.link(
            before,
            id_,
            because="Lines are laid from the bottom up, on a finished bed or on the filled layer below.",
        )


def set_structure(here: Here, structure: Structure, after: Sequence[str], group: LayGroup | None) -> str:
    """Make the setting of a structure, in the trench or beside it."""
    setting = here.setting
    assert structure.trade
    doing = setting.crew(structure.trade, here.reach)
    lift = setting.machine("lift") if structure.kind in HEAVY else None
    if lift:
        doing = setting.joined(doing, lift, here.reach)
    id_ = here.draft.add(
        f"{here.reach.id}/set-{structure.id}",
        f"Set {structure.name}, {here.name}",
        Kind.SET,
        structure.set_hours,
        doing,
        because=f"{structure.name} stands at this station.",
        source=f"{SITE_FILE}: structures",
        place=here.place,
        lines=structure.lines,
        layer=group.layer if group else None,
        one_window=lift is not None,
    )
    for before in after:
        here.draft.link(before, id_, because=f"{structure.name} is set once the trench and its lines are ready for it.")
    here.setting_of[structure.id] = id_
    return id_


def build_beside(here: Here, structures: Sequence[Structure]) -> None:
    """Make the structures that stand beside the trench, each after its lines are laid here."""
    lays = {line: id_ for group in here.work.groups for line, id_ in group.lays.items()}
    for structure in structures:
        after = [lays[line] for line in structure.lines if line in lays]
        here.work.free_standing.append(set_structure(here, structure, after, None))


def _finish_lines(here: Here, group: LayGroup) -> None:
    """Make the caps of stubs, and the tests that come before cover."""
    for line_id in group.lines:
        line = here.setting.ground.lines[line_id]
        if _capped_in(line, group):
            group.extras.append(_cap(here, group, line))
        alone = group.later or here.setting.tests.alone(line, here.reach.id)
        by_reach = line.test and line.test.kind in BEFORE_COVER and alone
        if by_reach:
            group.tests[line_id] = _test(here, group, line)


def _capped_in(line: Line, group: LayGroup) -> bool:
    """Tell whether a line is left for later and ends here: a stub at its far end, a spare conduit at either."""
    first, last = line.route[0], line.route[-1]
    ends = [(last.alignment, last.to)] if line.stub or line.use == "spare" else []
    ends += [(first.alignment, first.from_)] if line.use == "spare" else []
    return any(
        p.alignment == alignment and p.from_ft - TOUCH_FT <= station <= p.to_ft + TOUCH_FT
        for p in (*group.pieces, *group.loose)
        for alignment, station in ends
    )


def _cap(here: Here, group: LayGroup, line: Line) -> str:
    what = "stub" if line.stub else "spare"
    id_ = here.draft.add(
        f"{group.id}/L{group.layer}/cap-{line.id}",
        f"Cap, label, mark and record the {what} of {line.name}, {_place_name(here, group)}",
        Kind.JOIN,
        here.setting.site.rates.cap_hours,
        here.setting.crew(line.trade, here.reach),
        because=f"The end of {line.name} is left for later: capped, labelled and marked at the surface; its station, "
        "offset and depth are written down before it is covered.",
        source=here.setting.site.rates.cited("cap_hours"),
        place=here.place,
        lines=[line.id],
        layer=group.layer,
    )
    here.draft.link(group.lays[line.id], id_, because="What is left for later is capped once it is laid.")
    return id_


def _test(here: Here, group: LayGroup, line: Line) -> str:
    assert line.test
    id_ = here.draft.add(
        f"{group.id}/L{group.layer}/test-{line.id}",
        f"{line.test.kind.capitalize()} test of {line.name}, {_place_name(here, group)}",
        Kind.TEST,
        line.test.set_up_hours,
        here.setting.crew(line.trade, here.reach),
        because=f"A test of {line.name}, capped at both ends of this part, while the joints can be seen."
        + make_up_said(line, _feet(here, group, line.id)),
        source=tested_before_cover(line),
        place=here.place,
        lines=[line.id],
        layer=group.layer,
        one_window=True,
    )
    here.draft.link(
        group.lays[line.id],
        id_,
        lag=here.setting.clock.ticks(hours=line.joint_cure_hours),
        because=LAID_AND_CURED,
        source=f"{SITE_FILE}: lines, joint_cure_hours" if line.joint_cure_hours else TRADE_ORDER,
    )
    for extra in group.extras:
        if line.id in here.draft.activities[extra].lines:
            here.draft.link(extra, id_, because=FITTED)
    return id_


def _shade(here: Here, group: LayGroup, piece: Piece, lays: dict[str, str], tests: dict[str, str]) -> str:
    """Make the shading of a layer over one piece; the layer's lines, tests and fittings come first."""
    setting, k = here.setting, group.layer
    amounts = here.of_piece(piece)
    lines = _lying(here, piece, k)
    pipes = {setting.ground.lines[line].kind for line in lines} - {"power", "lighting", "communications"}
    id_ = here.draft.add(
        f"{piece.id}/L{k}/shade",
        f"{'Haunch and shade' if pipes else 'Shade'} {setting.line_names(lines)}, {setting.where(piece)}",
        Kind.SHADE,
        amounts.shading_cy[k] / setting.site.backfill.hand_shade_cy_per_hour,
        setting.crew(setting.site.general_trade.id, here.reach),
        because=f"{format_volume(amounts.shading_cy[k])} of select fill, worked in by hand under and over the lines.",
        source=f"{SITE_FILE}: backfill, hand_shade_cy_per_hour",
        place=piece.place,
        lines=lines,
        layer=k,
    )
    group.shades.append(id_)
    for line in dict.fromkeys((*group.lays, *lines)):
        _close_over(here, setting.ground.lines[line], id_, lay=lays[line], test=tests.get(line))
    for extra in group.extras:
        here.draft.link(extra, id_, because="Boxes, fittings and caps of a layer are in before it is covered.")
    return id_


def _lying(here: Here, piece: Piece, layer: int) -> list[str]:
    """Return the lines of a layer that lie in a piece."""
    ground = here.setting.ground
    return [line for line in here.section.layers[layer].lines if ground.feet(line, [piece]) > TOUCH_FT]


def _close_over(here: Here, line: Line, shade: str, *, lay: str, test: str | None) -> None:
    """Let shading wait for a line, its cure and its test."""
    ticks = here.setting.clock.ticks
    here.draft.link(
        lay,
        shade,
        lag=ticks(hours=line.joint_cure_hours),
        because="All lines of a layer are laid, and their joints have cured, before it is covered.",
    )
    if test and line.test:
        here.draft.link(
            test,
            shade,
            lag=ticks(hours=line.test.hold_hours),
            because=f"The test is held for {line.test.hold_hours:g} h before cover: {line.name}.",
            source=f"{SITE_FILE}: lines, test",
        )


def build_fill(here: Here, work: PieceWork, layer: int, amounts: Quantities, lines: Sequence[str]) -> str | None:
    """Make the fill from the shading of a layer to the next, or return None where there is none."""
    piece, volume = work.piece, amounts.fill_above_cy[layer]
    if volume < 0.05:
        return None
    setting = here.setting
    id_ = here.draft.add(
        f"{piece.id}/L{layer}/fill",
        f"Fill to the next layer over {setting.line_names(_lying(here, piece, layer))}, {setting.where(piece)}",
        Kind.FILL,
        work_hours.fill_hours(
            fill_cy=volume,
            lifts=amounts.lifts_above[layer],
            length_ft=piece.length_ft,
            dig_cy_per_hour=here.dig_rate(),
            backfill=setting.site.backfill,
        ),
        setting.with_machines(here.reach, "excavator", "compactor", crew=True, group=MACHINE),
        because=f"{format_volume(volume)} of fill between two layers, compacted in lifts.",
        source=f"{SITE_FILE}: backfill",
        place=piece.place,
        lines=lines,
        layer=layer,
    )
    here.draft.link(work.shades[layer], id_, because="Fill follows the shading of the layer below.")
    work.after_shade[layer] = id_
    return id_


def _place_name(here: Here, group: LayGroup) -> str:
    return f"{here.setting.where(group.pieces[0])}, after the loose end" if group.later else here.name
