"""Tests over more than one reach: continuity after cover, pressure over a line or part of it; joints by themselves."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.findings import Finding, Severity
from scheduler.network.kind import Kind
from scheduler.network.layer_work import FITTED, LAID_AND_CURED, tested_before_cover
from scheduler.network.line_ends import line_ends
from scheduler.network.model import Activity, Note
from scheduler.network.network_draft import SITE_FILE, NetworkDraft, Place
from scheduler.network.setting import LayGroup, Made, PieceWork, Setting
from scheduler.network.tested_together import Tested, Untested
from scheduler.site.ground import Line
from scheduler.trench.rules.proof_rules import make_up_said
from scheduler.units import TOUCH_FT, format_feet, format_station

JOINT = "/joint-"
"""In the id of the work that makes and checks a joint that no test takes in."""


def build_line_tests(setting: Setting, draft: NetworkDraft, made: Made, line: Line) -> None:
    """Make the tests of a line that are not made reach by reach."""
    if line.test and line.test.kind == "continuity":
        _continuity(setting, draft, made, line)
    tested = setting.tests.of_line.get(line.id, ())
    for n, part in enumerate(tested, 1):
        if not setting.tests.alone(line, part.reaches[0]):
            _at_once(setting, draft, made, line, part, "" if part.whole else f"-{n}")
    for joint in setting.tests.untested:
        if joint.line == line.id:
            _between_reaches(setting, draft, made, line, joint)
    if tested:
        _beside_what_is_laid_later(setting, draft, made, line)


def _continuity(setting: Setting, draft: NetworkDraft, made: Made, line: Line) -> None:
    assert line.test
    check_after_cover(
        setting,
        draft,
        made,
        line,
        "continuity",
        f"Continuity test of {line.name}",
        line.test.set_up_hours,
        because=f"Shows {line.name} to be whole from end to end once covered, when damage would show.",
        source=f"{SITE_FILE}: lines, test",
    )


def check_after_cover(
    setting: Setting,
    draft: NetworkDraft,
    made: Made,
    line: Line,
    what: str,
    name: str,
    hours: float,
    *,
    because: str,
    source: str,
) -> None:
    """Make a test of a line from end to end that is made once it is covered; `what` is the tail of its id."""
    id_ = draft.add(
        f"line/{line.id}/{what}",
        name,
        Kind.TEST,
        hours,
        setting.crew(line.trade, None),
        because=because,
        source=source,
        lines=[line.id],
        one_window=True,
    )
    draft.stands[id_] = line_ends(line, setting.branches)
    made.checks.setdefault(line.id, []).append(id_)
    made.waits[id_] = frozenset().union(*(group.later for _, group in made.line_groups[line.id]))
    for reach, group in made.line_groups[line.id]:
        covered = [w.covered for w in made.reaches[reach].pieces if w.piece in group.pieces and not w.piece.keeps]
        for before in covered:
            draft.link(before, id_, because="The test follows the fill.")
        if not covered:
            draft.link(group.lays[line.id], id_, because=f"The line is laid from end to end first: {line.name}.")


def _at_once(setting: Setting, draft: NetworkDraft, made: Made, line: Line, tested: Tested, suffix: str) -> None:
    """Test a line over several reaches at once, before any of them is covered."""
    assert line.test
    groups = [(r, g) for r, g in made.line_groups[line.id] if r in tested.reaches and not g.later]
    if not groups:
        return
    place = Place() if tested.whole else _place(setting, tested)
    stations = f"{format_station(place.from_ft)} to {format_station(place.to_ft)}"
    where = "whole length" if tested.whole else f"{setting.alignment_names[place.alignment]} {stations}"
    feet = sum(setting.ground.feet(line.id, group.pieces) for _, group in groups)
    id_ = draft.add(
        f"line/{line.id}/test{suffix}",
        f"{line.test.kind.capitalize()} test of {line.name}, {where}",
        Kind.TEST,
        line.test.set_up_hours,
        setting.crew(line.trade, None),
        because=f"A test of {line.name}, {where}, while all its joints there can be seen.{make_up_said(line, feet)}",
        source=tested_before_cover(line),
        place=place,
        lines=[line.id],
        one_window=True,
    )
    draft.occupy(id_, line.trade, (reach for reach, _ in groups))
    until = f"the test has been held for {line.test.hold_hours:g} h" if line.test.hold_hours else "it is tested"
    over = "its whole length" if tested.whole else where
    because = f"{line.name} is tested over {over}: all {format_feet(feet)} of it stay uncovered until {until}."
    for reach, group in groups:
        group.tests[line.id] = id_
        cure = setting.clock.ticks(hours=line.joint_cure_hours)
        draft.link(group.lays[line.id], id_, lag=cure, because=LAID_AND_CURED)
        for extra in group.extras:
            if line.id in draft.activities[extra].lines:
                draft.link(extra, id_, because=FITTED)
        for work in made.reaches[reach].pieces:
            if work.piece in group.pieces or work.piece in group.loose:
                draft.link(
                    id_,
                    work.shades[group.layer],
                    lag=setting.clock.ticks(hours=line.test.hold_hours),
                    because=because,
                    source=f"{SITE_FILE}: lines, test, over",
                )


def _place(setting: Setting, tested: Tested) -> Place:
    """Return where a part of a line is tested: no one reach, and the stations of its reaches."""
    reaches = [setting.ground.reaches[r] for r in tested.reaches]
    spans = [span for r in tested.reaches for span in setting.ground.spans[r][tested.line]]
    return Place("", reaches[0].alignment, min(lo for lo, _ in spans), max(hi for _, hi in spans))


def _between_reaches(setting: Setting, draft: NetworkDraft, made: Made, line: Line, joint: Untested) -> None:
    """Check a joint between two reaches that no test takes in."""
    stations = dict(zip((joint.before, joint.after), joint.stations, strict=True))
    sides = []
    for id_ in joint.laid_in_order:
        at = setting.ground.reaches[id_].alignment, stations[id_]
        here = [side for side in _sides(setting, made, line, *at) if side.reach == id_]
        sides += sorted(here, key=lambda side: bool(side.group.later))[:1]
    if len(sides) == 2:
        _joint(setting, draft, made, line, joint.why, sides)
        return
    second = setting.ground.reaches[joint.laid_in_order[1]]
    station = f"{setting.alignment_names[second.alignment]} {format_station(stations[second.id])}"
    draft.notes.append(_untested((joint.before, joint.after), station, _no_test(line, joint.why), checked=False))


def _beside_what_is_laid_later(setting: Setting, draft: NetworkDraft, made: Made, line: Line) -> None:
    """Check the joints at which a stretch that is laid after others' work meets the rest: it is tested by itself."""
    for reach, group in made.line_groups[line.id]:
        for piece in group.pieces if group.later else ():
            for station in (piece.from_ft, piece.to_ft):
                sides = _sides(setting, made, line, piece.alignment, station)
                own = [s for s in sides if s.reach == reach and s.group is group]
                rest = sorted((s for s in sides if s.group is not group), key=lambda side: bool(side.group.later))
                if own and rest:
                    why = "what is laid there after others have done their work is tested by itself"
                    _joint(setting, draft, made, line, why, [rest[0], own[0]])


@dataclass(frozen=True, slots=True)
class _Side:
    """One side of a joint: where a line is laid, with the pieces of trench in which it lies there."""

    reach: str
    group: LayGroup
    pieces: list[PieceWork]
    station: float


def _sides(setting: Setting, made: Made, line: Line, alignment: str, station: float) -> list[_Side]:
    """Return the work on a line at a station, by reach and lay group."""
    found = []
    for id_, group in made.line_groups[line.id]:
        pieces = [
            p
            for p in made.reaches[id_].pieces
            if p.piece.alignment == alignment
            and (p.piece in group.pieces or p.piece in group.loose)
            and group.layer in p.shades
            and p.piece.from_ft - TOUCH_FT <= station <= p.piece.to_ft + TOUCH_FT
            and setting.ground.feet(line.id, [p.piece]) > TOUCH_FT
        ]
        if pieces:
            found.append(_Side(id_, group, pieces, station))
    return found


def _joint(setting: Setting, draft: NetworkDraft, made: Made, line: Line, why: str, sides: list[_Side]) -> None:
    """Check a joint once both its sides are laid and tested, before the second of them is covered there.

    The first is capped for its test, and its end left out of the cover until the joint is made.
    """
    first, second = sides
    reach = setting.ground.reaches[second.reach]
    id_ = f"line/{line.id}{JOINT}{reach.alignment}-{second.station:g}"
    if id_ in draft.activities:
        return
    station = f"{setting.alignment_names[reach.alignment]} {format_station(second.station)}"
    draft.add(
        id_,
        f"Make and check the joint of {line.name}, {station}",
        Kind.TEST,
        setting.site.rates.joint_check_hours,
        setting.crew(line.trade, reach),
        because=f"{_no_test(line, why)} It is looked over under working pressure before it is covered.",
        source=setting.site.rates.cited("joint_check_hours"),
        place=Place(reach.id, reach.alignment, second.pieces[0].piece.from_ft, second.pieces[-1].piece.to_ft),
        lines=[line.id],
        layer=second.group.layer,
    )
    if later := first.group.later | second.group.later:
        made.waits[id_] = later
    cure = setting.clock.ticks(hours=line.joint_cure_hours)
    held = setting.clock.ticks(hours=line.test.hold_hours if line.test else 0.0)
    for group in (first.group, second.group):
        draft.link(group.lays[line.id], id_, because="A joint between two parts is made once both are laid.")
        if line.id in group.tests:
            because = "Each part is tested, capped, before the caps come off for the joint."
            draft.link(group.tests[line.id], id_, lag=held, because=because)
    because = f"{_no_test(line, why)} It is checked before it is covered."
    for work in second.pieces:
        draft.link(id_, work.shades[second.group.layer], lag=cure, because=because)
    draft.notes.append(_untested((first.reach, second.reach), station, _no_test(line, why), checked=True))


def is_joint_check(activity: Activity) -> bool:
    """Tell whether an activity makes and checks a joint that no test takes in."""
    return activity.kind is Kind.TEST and JOINT in activity.id


def _no_test(line: Line, why: str) -> str:
    return f"No test takes in the joint of {line.name} here: {why}."


def _untested(reaches: tuple[str, str], station: str, text: str, *, checked: bool) -> Note:
    done = "It is made and checked by itself." if checked else "Nothing checks it."
    return Note(
        Finding(
            "joint-not-tested",
            Severity.NOTE if checked else Severity.FIX,
            station,
            f"{text} {done}",
            found="no test over it",
            required="one test over both sides of it",
            source=f"{SITE_FILE}: lines, test, over",
            remedy="Make a longer test (`over: line` under `test`, with more trench open at once), or have an "
            "inspection see the joint.",
        ),
        tuple(dict.fromkeys(reaches)),
    )
