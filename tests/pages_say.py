"""What each page, the printed papers and `today` must say of the site as it stands, for tests of every kind.

A page is its words, line by line, as a user reads them; see `lines_of`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta

from icalendar import Calendar

from scheduler import Situation
from scheduler.cli.site_today import ROWS_AT_MOST
from scheduler.export import EVERYBODY, PaperFacts, day_sheets
from scheduler.export.lookahead import Period
from scheduler.ledger import HoldStatus
from scheduler.plan import put_together
from scheduler.situation import (
    LayerState,
    WorkStands,
    WorkState,
    before_anybody_enters,
    before_it,
    calls_of,
    how_it_stands,
    phone_calls,
    to_make_good,
    verdict,
    why_not,
)
from scheduler.spoken import moment, times
from tests.papers import read_pdf, squeezed

HOURS = re.compile(r"^\W*\d\d:\d\d\W+\d\d:\d\d ")
Drawn = tuple[str, str, bool]
"""A piece of work drawn: its id, what it says when pointed at, and whether it is filled."""
NEAR = 5
"""Within so many lines of the name of a piece of work stands what must come first."""
MOST_CALLS, CALLS_AHEAD = 8, timedelta(days=7)
"""So many telephone calls stand on Today unfolded, of so many days."""
PAPER_WEEKS = 2


def plain(text: str) -> str:
    """Words without marks, so that a page, a terminal and a sentence can be compared."""
    text = re.sub(r":material/\w+:|&emsp;", " ", text)
    return " ".join(text.replace("\\", "").replace("*", "").replace("\u2060", "").split())


def lines_of(text: str) -> list[str]:
    """Return the lines of a page or a terminal without marks, without empty ones."""
    return [line.removeprefix("- ") for line in map(plain, text.splitlines()) if line]


def head_agrees(lines: Sequence[str], now: Situation) -> None:
    """Hold the head of any page against the situation: does the plan still hold, and if not, why."""
    words = " ".join(lines)
    assert ("The plan no longer holds." in words) == (not now.holds_still)
    if not now.holds_still:
        assert plain(why_not(now)[0]) in words
        assert "Proved: no plan finishes earlier" not in words


def today_agrees(lines: Sequence[str], now: Situation) -> None:
    """Hold the page Today on the day of the situation against it."""
    words = " ".join(lines)
    for work in now.on_day(now.moment.date()):
        if work.kind.takes_time:
            assert plain(work.name) in words
            assert all(plain(s) in words for s in before_it(work)), work.name
    for sentence in (*to_make_good(now), *before_anybody_enters(now)):
        assert plain(sentence) in words
    assert f"Open now, by the record {now.open_tonight_ft:.0f} ft" in words
    _calls_agree(words, now)


def _calls_agree(words: str, now: Situation) -> None:
    today = now.moment.date()
    calls = [c for c in phone_calls(calls_of(now), today) if c.on < today + CALLS_AHEAD]
    for call in calls[:MOST_CALLS]:
        assert plain(f"{call.when}: {call.to}") in words
        assert all(plain(how_it_stands(c)) in words for c in call.due)


def record_agrees(lines: Sequence[str], now: Situation) -> None:
    """Hold the page Record against the situation: what failed, and what is to be done today."""
    words = " ".join(lines)
    for work in now.work.values():
        if work.kind.takes_time and work.state in (WorkState.FAILED, WorkState.AGAIN):
            assert plain(work.name) in words
            assert plain(work.because) in words


def trench_agrees(lines: Sequence[str], now: Situation) -> None:
    """Hold the page Trench against the situation: each layer as recorded, never as planned."""
    words = " ".join(lines)
    for state in LayerState:
        recorded = any(p.recorded is state for p in now.stretches)
        assert any(line.startswith(f"{state.capitalize()}: ") for line in lines) == recorded, state
    for stretch in now.stretches:
        for look in stretch.failed:
            assert plain(now.work[look].because) in words
    assert words.count("the plan has it ") - words.count("the plan has it further") == sum(
        p.behind for p in now.stretches
    )


def schedule_agrees(lines: Sequence[str], now: Situation) -> None:
    """Hold the page Schedule against the situation: what is drawn filled is on record."""
    drawn = any("Filled: recorded begun or done." in line for line in lines)
    assert drawn == (now.state.last is not None)


def holds_agree(lines: Sequence[str], now: Situation) -> None:
    """Hold the hold points against the situation: each with its status by the record."""
    words = " ".join(lines)
    for point in now.holds:
        assert plain(f"{point.status.value.capitalize()} · {point.hold.name}") in words


def visits_agree(lines: Sequence[str], now: Situation) -> None:
    """Hold the visits against the situation: each that failed, or whose time has passed without a result, says so."""
    assert now.plan is not None
    status = {p.hold.id: p.status for p in now.holds}
    visits = [(made, [status.get(h) for v in made for h in v.covers]) for made in put_together(now.plan.visits)]
    missed = sum(
        any(v.finish <= now.moment and HoldStatus.WAITING in [status.get(h) for h in v.covers] for v in made)
        for made, _ in visits
    )
    assert sum("its time has passed, and no result is on record" in line for line in lines) == missed
    for made, found in visits:
        failed = found.count(HoldStatus.FAILED)
        names = " and ".join(dict.fromkeys(v.name or v.inspection for v in made))
        said = [line for line in lines if plain(f"{moment(made[0].start)} · {names}") in line]
        assert not failed or any(f", {failed} failed" in line for line in said)


def paper_agrees(lines: Sequence[str], now: Situation) -> None:
    """Hold what the page of papers says is in them against the situation."""
    assert now.plan is not None
    words = " ".join(lines)
    facts = PaperFacts(now.plan, now.site, now.network, now)
    span = Period(now.moment.date(), PAPER_WEEKS)
    rows = [row for sheet in day_sheets(facts, EVERYBODY, span.first, span.last) for row in sheet.rows]
    blocked = sum(bool(row.blocked) for row in rows)
    assert span.words in words
    assert (f", {blocked} that may not begin or go on" in words) if blocked else ("may not begin" not in words)


def drawn_agrees(drawn: Sequence[Drawn], now: Situation) -> None:
    """Hold the work drawn on Schedule against the situation: filled is what is on record, never what is planned."""
    assert drawn
    for id_, said, filled in drawn:
        work = now.work[id_]
        assert work.state.value in said, work.name
        assert filled == (work.over or work.started is not None), work.name


AGREES: Mapping[str, Callable[[Sequence[str], Situation], None]] = {
    "today": today_agrees,
    "record": record_agrees,
    "trench": trench_agrees,
    "schedule": schedule_agrees,
    "holds": holds_agree,
    "visits": visits_agree,
    "paper": paper_agrees,
}
"""By page, or part of one: what holds it against the situation."""


def page_agrees(name: str, text: str, now: Situation) -> None:
    """Hold a page against the situation: its head, what it says, and that it sends nobody to cover too early."""
    lines = lines_of(text)
    head_agrees(lines, now)
    AGREES[name](lines, now)
    sends_nobody_too_early(lines, now)


def terminal_agrees(text: str, now: Situation) -> None:
    """Hold what `jointtrench today` prints against the situation."""
    lines = lines_of(text)
    words = " ".join(lines)
    assert plain(verdict(now)) in words
    for work in now.overdue[:ROWS_AT_MOST]:
        assert plain(f"{work.name} ({work.doer or 'site'}): ") in words
    for work in now.on_day(now.moment.date()):
        if work not in now.overdue and work.kind.takes_time:
            assert plain(" ".join([work.name + _how(work) + ".", *before_it(work)])) in words
    assert f"{now.open_tonight_ft:.0f} ft" in words


def _how(work: WorkStands) -> str:
    return "" if work.state is WorkState.PLANNED else f" [{work.state.value}]"


def sends_nobody_too_early(lines: Sequence[str], now: Situation) -> None:
    """Check that wherever work that hides something is given out, what must come first stands beside it.

    Work is given out by a line that begins with its hours, or by a card whose first line is its name.
    """
    named: dict[str, list[WorkStands]] = {}
    for work in now.work.values():
        if work.kind.buries:
            named.setdefault(plain(work.name), []).append(work)
    for at, line in enumerate(lines):
        head, _, rest = line.partition(": ")
        name = line if line in named else next((n for n in named if rest.startswith(n)), "")
        if name and (line == name or HOURS.match(head)):
            beside = " ".join(lines[at : at + NEAR])
            meant = [w for w in named[name] if head.startswith(_hours(w, now))] or named[name]
            assert any(w.over or all(plain(s) in beside for s in before_it(w)) for w in meant), line


def _hours(work: WorkStands, now: Situation) -> str:
    """Return the hours of a piece of work on its first day, as a line of a page begins; pieces may share a name."""
    hours = now.hours_on(work.id, work.planned[0].date()) if work.planned else None
    return times(*hours) if hours else "?"


def printed_agree(look_ahead: bytes, tags: bytes, ics: bytes, now: Situation) -> None:
    """Hold everybody's look-ahead and calendar and the hold tags of the days from today against the situation."""
    assert squeezed(verdict(now)) in squeezed(read_pdf(look_ahead).text)
    hung = squeezed(read_pdf(tags).text)
    for point in now.holds:
        if point.status is HoldStatus.FAILED and point.look is not None:
            assert squeezed(f"Tag: {point.hold.id}") in hung
            assert squeezed(f"Failed {moment(point.look.when.astimezone(now.moment.tzinfo))}") in hung
        if point.clear:
            assert squeezed(f"Tag: {point.hold.id}") not in hung
    titles = [str(e["summary"]) for e in Calendar.from_ical(ics).walk("VEVENT")]
    for stands in now.on_day(now.moment.date()):
        if stands.kind.buries and stands.blocked_by and stands.started is None:
            what = stands.name.split(",")[0]
            assert any(t.startswith("BLOCKED") and what in t for t in titles), stands.name
