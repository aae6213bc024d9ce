"""What moves, as people read it: put together by day, by who does it and by stretch, each reason said once."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from string import ascii_uppercase

from scheduler.cells import safe
from scheduler.replan.replan_records import Differences, Move
from scheduler.spoken import count, length, moment, short_day, time_of_day

COLUMNS = ("activity", "name", "who", "where", "was", "now", "finish", "why")
GROUPS_AT_MOST = 12
"""So many groups are told one by one; more are counted by who does the work."""


@dataclass(frozen=True, slots=True)
class MoveGroup:
    """What one party does on one day in one stretch, at other times than before."""

    on: date
    who: str
    place: str
    """Empty: the whole site."""
    moves: tuple[Move, ...]

    @property
    def head(self) -> str:
        """Name the day, the party and the stretch."""
        return ", ".join(p for p in (short_day(self.on), self.who or "site", self.place) if p)

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why these move, each reason once."""
        return tuple(dict.fromkeys(m.buys for m in self.moves if m.buys))

    def said(self, local: Callable[[datetime], datetime], instead: Mapping[str, str] | None = None) -> str:
        """Say what moves from when to when, then why; `instead` has what stands for reasons that are said elsewhere."""
        pieces = "; ".join(_piece(m, local) for m in self.moves)
        why = ((instead or {}).get(reason, reason) for reason in self.reasons)
        return " ".join([f"{pieces}.", *filter(None, why)])


@dataclass(frozen=True, slots=True)
class MovesOfOne:
    """How much of one party's work moves."""

    who: str
    moves: tuple[Move, ...]

    def said(self, local: Callable[[datetime], datetime]) -> str:
        """Say how many pieces there are, how many of them are new, over which days, and by how much they move."""
        days = [local(m.now).date() for m in self.moves]
        first, last = short_day(min(days)), short_day(max(days))
        over = first if first == last else f"{first} to {last}"
        shifts = [m.later_minutes for m in self.moves if m.later_minutes]
        new = sum(m.was is None for m in self.moves)
        parts = [over, _far([s for s in shifts if s > 0], "later"), _far([-s for s in shifts if s < 0], "sooner")]
        how_many = f"{count(len(self.moves), 'task')}" + (f", {new} of them new" if new else "")
        return f"{self.who or 'site'}: {how_many}; {'; '.join(p for p in parts if p)}."


def moves_said(differences: Differences) -> str:
    """Say how many pieces of work move, are new, or only end at another time: together all that is listed."""
    d = differences
    if not d.moved + d.new + d.longer:
        return "no work moved"
    parts = [f"{count(d.moved, 'task')} moved", f"{d.new} new" if d.new else ""]
    parts.append(f"{d.longer} more ending at another time" if d.longer else "")
    return ", ".join(p for p in parts if p)


def move_groups(moves: Iterable[Move], local: Callable[[datetime], datetime]) -> tuple[MoveGroup, ...]:
    """Return moves put together by the day on which they now begin, who does them, and where, in order of time.

    `local` returns a moment in the site's own time.
    """
    found: dict[tuple[date, str, str], list[Move]] = {}
    for move in moves:
        found.setdefault((local(move.now).date(), move.trade, move.place), []).append(move)
    return tuple(MoveGroup(*key, tuple(together)) for key, together in sorted(found.items(), key=lambda kv: kv[0][0]))


def by_party(moves: Iterable[Move]) -> tuple[MovesOfOne, ...]:
    """Return moves put together by who does them, whoever has most first."""
    found: dict[str, list[Move]] = {}
    for move in moves:
        found.setdefault(move.trade, []).append(move)
    return tuple(MovesOfOne(who, tuple(m)) for who, m in sorted(found.items(), key=lambda kv: (-len(kv[1]), kv[0])))


def shared_reasons(groups: Iterable[MoveGroup]) -> dict[str, str]:
    """Return the reasons that several groups have, to be said once for all, and what each group says in their place.

    That of most groups comes first: it goes without a word. The others are called Reason A, Reason B and so on.
    """
    often = Counter(r for g in groups for r in g.reasons).most_common()
    first, *others = [reason for reason, times in often if times > 1] or [""]
    named = {reason: f"Reason {letter}." for reason, letter in zip(others, ascii_uppercase, strict=False)}
    return {first: "", **named} if first else {}


def reasons_said(shared: Mapping[str, str]) -> list[tuple[str, str]]:
    """Return shared reasons as they stand above the groups: what each is called there, and the reason."""
    return [
        (f"{name.rstrip('.')}:" if name else "Why, unless another reason is given:", r) for r, name in shared.items()
    ]


def moves_csv(moves: Iterable[Move]) -> str:
    """Return everything that moves as a table, a row a piece, times ISO 8601."""
    text = io.StringIO()
    table = csv.writer(text)
    table.writerow(COLUMNS)
    for m in moves:
        was = m.was.isoformat() if m.was else ""
        cells = (m.activity, m.name, m.trade, m.place, was, m.now.isoformat(), m.finish_now.isoformat(), m.buys)
        table.writerow([safe(c) for c in cells])
    return text.getvalue()


def _piece(move: Move, local: Callable[[datetime], datetime]) -> str:
    short = " [short notice: ask them first]" if move.short_notice else ""
    what = move.name.removesuffix(move.place).rstrip(" ,:") or move.name
    if move.was is None:
        return f"{what} {time_of_day(local(move.now))} (new){short}"
    later = move.later_minutes or 0
    shift = f", {length(abs(later))} {'later' if later > 0 else 'sooner'}" if later else ", begins as before"
    return f"{what} {time_of_day(local(move.now))} (was {moment(local(move.was))}{shift}){short}"


def _far(minutes: Sequence[int], way: str) -> str:
    if not minutes:
        return ""
    least, most = length(min(minutes)), length(max(minutes))
    return f"{least} {way}" if least == most else f"{least} to {most} {way}"
