"""Site work on lines: wet lines connected, disinfected and flushed, tracer wires traced."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scheduler.network.kind import Kind
from scheduler.network.line_tests import check_after_cover
from scheduler.network.network_draft import NetworkDraft
from scheduler.network.setting import LayGroup, Made, PieceWork, Setting
from scheduler.network.site_steps import PART_OF, asked, sourced
from scheduler.site.ground import Line, Stretch
from scheduler.trench.junctions import LineSpot, junctions, passes
from scheduler.units import TOUCH_FT, format_station

WET = ("water", "reclaimed", "irrigation", "sewer")


@dataclass(frozen=True, slots=True)
class End:
    """One end of a line: its word, where it is, and the lay group and piece that hold it."""

    word: str
    alignment: str
    station: float
    reach: str
    group: LayGroup
    piece: PieceWork


def build_line_steps(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Make the site work of every line; tests and looks before cover are made before."""
    for line in setting.site.lines:
        if line.id not in made.line_groups:
            continue
        joined = []
        if line.kind in WET and asked(setting, "connections"):
            joined = [_connect(setting, draft, made, line, end) for end in _open_ends(setting, made, line)]
        if line.kind == "water" and asked(setting, "disinfection"):
            _disinfect(setting, draft, made, line, joined)
        if line.tracer_wire_awg is not None and asked(setting, "tracer_check"):
            check_after_cover(
                setting,
                draft,
                made,
                line,
                "tracer",
                f"Trace the wire of {line.name}",
                setting.site.rates.tracer_check_hours,
                because=f"The wire by which {line.name} is found again is shown to be whole from end to end.",
                source=sourced(setting, "tracer_check_hours"),
            )


def _open_ends(setting: Setting, made: Made, line: Line) -> Iterator[End]:
    """Yield the ends at which a line is connected: not the end of a stub, nor where it meets another of its kind."""
    first, last = line.route[0], line.route[-1]
    ends = [("start", first.alignment, first.from_)]
    if not line.stub:
        ends.append(("end", last.alignment, last.to))
    by_others = [w.at for w in setting.site.outside_work if w.kind == "tie_in" and line.id in w.lines]
    for word, alignment, station in ends:
        if any(at is None or _holds(at, alignment, station) for at in by_others):
            continue
        if _meets_own_kind(setting, line, alignment, station):
            continue
        for reach, group in made.line_groups[line.id]:
            for piece in made.reaches[reach].pieces:
                at = piece.piece
                here = at.alignment == alignment and at.from_ft - TOUCH_FT <= station <= at.to_ft + TOUCH_FT
                if here and at in group.pieces and line.id in group.lays and setting.ground.feet(line.id, [at]):
                    yield End(word, alignment, station, reach, group, piece)
                    break
            else:
                continue
            break


def _holds(at: Stretch, alignment: str, station: float) -> bool:
    return at.alignment == alignment and at.from_ - TOUCH_FT <= station <= at.to + TOUCH_FT


def _meets_own_kind(setting: Setting, line: Line, alignment: str, station: float) -> bool:
    """Tell whether the line joins another there, or another of its kind lies there: they meet in the trench."""
    end = LineSpot(alignment, station)
    return any(j.line == line.id and j.end == end for j in junctions(setting.site)) or any(
        passes(other, end) for other in setting.site.lines if other.id != line.id and other.kind == line.kind
    )


def _connect(setting: Setting, draft: NetworkDraft, made: Made, line: Line, end: End) -> str:
    reach = setting.ground.reaches[end.reach]
    at = f"{setting.alignment_names[end.alignment]} {format_station(end.station)}"
    id_ = draft.add(
        f"line/{line.id}/connect-{end.word}",
        f"Connect {line.name}, {at}",
        Kind.JOIN,
        setting.site.rates.connection_hours,
        setting.crew(line.trade, reach),
        because=f"{line.name} is joined to what it comes from or goes to, while its end can be seen.",
        source=sourced(setting, "connection_hours"),
        place=end.piece.piece.place,
        lines=[line.id],
    )
    if end.piece.piece.events and end.group.later:
        made.waits[id_] = end.group.later
    cure = setting.clock.ticks(hours=line.joint_cure_hours)
    draft.link(end.group.lays[line.id], id_, lag=cure, because="The line is laid first.", source=PART_OF)
    if line.id in end.group.tests and line.test:
        held = setting.clock.ticks(hours=line.test.hold_hours)
        because = "The line is tested, capped, before it is connected."
        draft.link(end.group.tests[line.id], id_, lag=held, because=because, source=PART_OF)
    for group, look in made.line_looks.get(line.id, ()):
        if group is None or group is end.group:
            draft.link(look, id_, because="The test is read before the line is connected.", source=PART_OF)
    because = "The connection is seen tight before it is covered."
    draft.link(id_, end.piece.shades[end.group.layer], because=because, source=PART_OF)
    return id_


def _disinfect(setting: Setting, draft: NetworkDraft, made: Made, line: Line, joined: list[str]) -> None:
    rates = setting.site.rates
    doing = setting.crew(line.trade, None)
    fill = draft.add(
        f"line/{line.id}/disinfect",
        f"Disinfect {line.name}",
        Kind.SITE,
        rates.disinfect_hours,
        doing,
        because=f"{line.name} carries drinking water: it is filled with chlorine once it is whole.",
        source=f"{sourced(setting, 'disinfect_hours')}; AWWA C651",
        lines=[line.id],
    )
    flush = draft.add(
        f"line/{line.id}/flush",
        f"Flush and sample {line.name}",
        Kind.TEST,
        rates.flush_hours,
        doing,
        because=f"{line.name} is flushed clean and its water sampled before anybody drinks it.",
        source=f"{sourced(setting, 'flush_hours')}; AWWA C651",
        lines=[line.id],
    )
    draft.link(
        fill,
        flush,
        lag=setting.clock.ticks(hours=rates.disinfect_contact_hours),
        because=f"The chlorine stays in {line.name} for {rates.disinfect_contact_hours:g} h.",
        source=sourced(setting, "disinfect_contact_hours"),
    )
    for _, group in made.line_groups[line.id]:
        before = group.tests.get(line.id) or group.lays[line.id]
        held = line.test.hold_hours if line.id in group.tests and line.test else line.joint_cure_hours
        lag = setting.clock.ticks(hours=held)
        draft.link(before, fill, lag=lag, because="The line is whole and tested first.", source=PART_OF)
    for connection in joined:
        draft.link(connection, fill, because="The line is connected first.", source=PART_OF)
    later = frozenset().union(*(group.later for _, group in made.line_groups[line.id]))
    made.waits[flush] = later.union(*(made.waits.get(c, frozenset()) for c in joined))
    made.checks.setdefault(line.id, []).append(flush)
