"""Tests made over a whole line: continuity after cover, and pressure over the line at once."""

from __future__ import annotations

from scheduler.network.kind import Kind
from scheduler.network.layer_work import BEFORE_COVER, FITTED, LAID_AND_CURED, tested_before_cover
from scheduler.network.line_ends import line_ends
from scheduler.network.network_draft import SITE_FILE, NetworkDraft
from scheduler.network.setting import Made, Setting
from scheduler.site.ground import Line
from scheduler.trench.rules.proof_rules import make_up_said


def build_line_tests(setting: Setting, draft: NetworkDraft, made: Made, line: Line) -> None:
    """Make the tests of a line that are not made reach by reach."""
    if line.test and line.test.kind == "continuity":
        _continuity(setting, draft, made, line)
    if line.test and line.test.kind in BEFORE_COVER and line.test.over == "line":
        _at_once(setting, draft, made, line)


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


def _at_once(setting: Setting, draft: NetworkDraft, made: Made, line: Line) -> None:
    """Test a line over its whole length before any of it is covered."""
    assert line.test
    groups = [(reach, group) for reach, group in made.line_groups[line.id] if not group.later]
    feet = sum(setting.ground.feet(line.id, group.pieces) for _, group in groups)
    id_ = draft.add(
        f"line/{line.id}/test",
        f"{line.test.kind.capitalize()} test of {line.name}, whole length",
        Kind.TEST,
        line.test.set_up_hours,
        setting.crew(line.trade, None),
        because=f"A test over the whole length of {line.name} while all joints can be seen.{make_up_said(line, feet)}",
        source=tested_before_cover(line),
        lines=[line.id],
        one_window=True,
    )
    draft.occupy(id_, line.trade, (reach for reach, _ in groups))
    until = f"the test has been held for {line.test.hold_hours:g} h" if line.test.hold_hours else "it is tested"
    because = f"{line.name} is tested over its whole length: all {feet:g} ft of it stay uncovered until {until}."
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
