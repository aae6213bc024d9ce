"""Where lines join: the branch is laid, joined, seen and tested before the main is covered there."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.findings import Finding, Severity
from scheduler.network.kind import Kind
from scheduler.network.model import Note
from scheduler.network.network_draft import SITE_FILE, TRADE_ORDER, NetworkDraft, Place
from scheduler.network.safe_order import SafeOrder
from scheduler.network.setting import LayGroup, Made, PieceWork, Setting
from scheduler.trench.junctions import Junction, LineSpot, junctions
from scheduler.units import TOUCH_FT, format_station

JOINED = f"{TRADE_ORDER}; common practice: a joint is made, seen and tested in the open trench"


@dataclass(frozen=True, slots=True)
class _Ends:
    """A junction with the work at both sides of it."""

    junction: Junction
    laid: list[LayGroup]
    """Where the branch is laid up to the junction."""
    main: list[tuple[LayGroup, list[PieceWork]]]
    """Where the line it joins is laid there, with the pieces of trench that meet at the junction."""


def build_junctions(setting: Setting, draft: NetworkDraft, made: Made, order: SafeOrder) -> None:
    """Hold the cover of each main where a branch joins it, until the branch is laid, joined, seen and tested.

    The whole reach of the main is held there, or the piece of it that is covered on its own. The branch itself may be
    covered first: its first feet lie in the trench of the main.
    """
    for junction in junctions(setting.site):
        laid = _groups(setting, made, junction.line, junction.end)
        main = _groups(setting, made, junction.into, junction.at)
        ends = _Ends(junction, [g for g, _ in laid], main)
        if ends.laid and ends.main:
            _hold_main(setting, draft, made, ends, order)


def _groups(setting: Setting, made: Made, line: str, spot: LineSpot) -> list[tuple[LayGroup, list[PieceWork]]]:
    """Return where a line is laid at a place, with the pieces there in which it lies."""
    found = []
    for reach, group in made.line_groups.get(line, ()):
        pieces = [
            work
            for work in made.reaches[reach].pieces
            if work.piece.alignment == spot.alignment
            and work.piece.from_ft - TOUCH_FT <= spot.station <= work.piece.to_ft + TOUCH_FT
            and (work.piece in group.pieces or work.piece in group.loose)
            and setting.ground.feet(line, [work.piece]) > TOUCH_FT
        ]
        if pieces:
            found.append((group, pieces))
    return found


def _hold_main(setting: Setting, draft: NetworkDraft, made: Made, ends: _Ends, order: SafeOrder) -> None:
    junction, lines = ends.junction, setting.ground.lines
    done = "laid on both sides before it is" if junction.into == junction.line else "laid and joined before the main is"
    because = f"{junction.said(setting.site)}: {done} covered there."
    laid = [group.lays[junction.line] for group in ends.laid]
    joined = [_join(setting, draft, ends, order, because)] if junction.hours else laid
    for group, pieces in ends.main:
        for work in pieces:
            closes = _closes(order, work, group.layer, joined)
            if closes is None:
                text = "{into} is covered here before {name} can be laid, because each waits for the other."
                draft.notes.append(Note(_not_held(setting, junction, text), (work.piece.reach,)))
                continue
            cure = setting.clock.ticks(hours=lines[junction.line].joint_cure_hours)
            for before in joined:
                order.link(before, closes, lag=cure, because=because, source=JOINED)
            if junction.into != junction.line and not _tested_and_seen(setting, made, ends, order, closes):
                text = "{into} is covered here before {name} is tested and seen, because each waits for the other."
                draft.notes.append(Note(_not_held(setting, junction, text), (work.piece.reach,)))
        if junction.into != junction.line:
            if not _part_of_main(made, ends, order, group, joined):
                text = "{into} is tested or looked at before {name} is joined to it, because each waits for the other."
                draft.notes.append(Note(_not_held(setting, junction, text), tuple(w.piece.reach for w in pieces)))
            _whole_before_water(draft, ends, order, group, joined)


def _join(setting: Setting, draft: NetworkDraft, ends: _Ends, order: SafeOrder, because: str) -> str:
    """Make the joint as work of its own, once both lines are laid there."""
    junction = ends.junction
    line, group, work = setting.ground.lines[junction.line], ends.main[0][0], ends.main[0][1][0]
    reach = setting.ground.reaches[work.piece.reach]
    place = Place(reach.id, reach.alignment, work.piece.from_ft, work.piece.to_ft)
    at = f"{setting.alignment_names[junction.at.alignment]} {format_station(junction.at.station)}"
    id_ = draft.add(
        f"{work.piece.id}/join-{line.id}-to-{junction.into}",
        f"Join {line.name} to {setting.ground.lines[junction.into].name}, {at}",
        Kind.JOIN,
        junction.hours or 0.0,
        setting.crew(line.trade, reach),
        because=because,
        source=f"{SITE_FILE}: lines, joins",
        place=place,
        lines=[line.id, junction.into],
        layer=group.layer,
    )
    order.made(id_)
    for before in [g.lays[line.id] for g in ends.laid] + [g.lays[junction.into] for g, _ in ends.main]:
        order.link(before, id_, because="A joint is made once both lines are laid there.")
    return id_


def _closes(order: SafeOrder, work: PieceWork, layer: int, before: list[str]) -> str | None:
    """Return what first covers a layer in a piece and does not itself come before the branch can be laid.

    Where the branch lies above other lines of the main's trench, the main under them is shaded before it is laid.
    """
    after = [work.shades[k] for k in sorted(work.shades) if k >= layer]
    for closes in (*after, work.covered):
        if all(order.can_wait(closes, b) for b in before):
            return closes
    return None


def _tested_and_seen(setting: Setting, made: Made, ends: _Ends, order: SafeOrder, closes: str) -> bool:
    """Let what covers the main wait for the tests and the looks of the branch too; return whether it can."""
    line, held = setting.ground.lines[ends.junction.line], True
    for group in ends.laid:
        test = group.tests.get(line.id)
        if test and line.test:
            lag = setting.clock.ticks(hours=line.test.hold_hours)
            because = f"The branch is tested before its joint is covered: {line.name}."
            held &= order.link(test, closes, lag=lag, because=because, source=JOINED)
        looks = {look for at, look in made.line_looks.get(line.id, ()) if at is None or at is group}
        held &= order.gate(looks, closes)
    return held


def _part_of_main(made: Made, ends: _Ends, order: SafeOrder, group: LayGroup, joined: list[str]) -> bool:
    """Let the test and the looks of the main come when the joint is made, so that they take it in; say if they can."""
    into = ends.junction.into
    looks = [look for at, look in made.line_looks.get(into, ()) if at is None or at is group]
    test = group.tests.get(into)
    because = "What joins a line is tested and looked at with it."
    tests = [test] if test else []
    waits = [order.link(b, after, because=because, source=JOINED) for after in [*tests, *looks] for b in joined]
    return all(waits)


def _whole_before_water(draft: NetworkDraft, ends: _Ends, order: SafeOrder, main: LayGroup, joined: list[str]) -> None:
    """Let the disinfection of a branch wait until it is joined to its main, and its sample until the main is clean."""
    branch, into = ends.junction.line, ends.junction.into
    fill, flush, main_flush = f"line/{branch}/disinfect", f"line/{branch}/flush", f"line/{into}/flush"
    if fill in draft.activities:
        for before in [*joined, main.lays[into]]:
            order.link(before, fill, because="A branch is joined to its main before it is disinfected.", source=JOINED)
        if main_flush in draft.activities:
            because = "A branch is flushed and sampled once its main is, whose water comes through it."
            order.link(main_flush, flush, because=because, source=JOINED)


def _not_held(setting: Setting, junction: Junction, text: str) -> Finding:
    name, into = (setting.ground.lines[k].name for k in (junction.line, junction.into))
    at = f"{setting.alignment_names[junction.at.alignment]} {format_station(junction.at.station)}"
    return Finding(
        "junction.covered-first",
        Severity.FIX,
        at,
        text.format(into=into, name=name),
        found="each waits for the other",
        required=f"{name} laid, joined and seen before {into} is covered there",
        source=JOINED,
        remedy="Leave the joint out of the cover and write an inspection for it, or look at what is kept open there "
        "and at how deep the lines lie.",
    )
