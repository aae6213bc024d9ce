"""What the screens say: words shared with the printed papers, amounts, and user text made safe to show."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable

from scheduler.explain import is_best as is_best
from scheduler.explain import proof as proof
from scheduler.spoken import amount as amount
from scheduler.spoken import count as count
from scheduler.spoken import day as day
from scheduler.spoken import day_and_time as day_and_time
from scheduler.spoken import from_to as from_to
from scheduler.spoken import in_words as in_words
from scheduler.spoken import moment as moment
from scheduler.spoken import short_day as short_day
from scheduler.spoken import spoken_in as spoken_in
from scheduler.spoken import time_of_day as time_of_day
from scheduler.spoken import times as times

AIMS = {
    "finish": ("Finish", "days after the start"),
    "exposure": ("Open trench", "ft nights"),
    "money": ("Money but for open trench and overhead", "dollars"),
    "steadiness": ("Moves between stretches, and work cut to minutes", "moves and cut pieces"),
    "earliness": ("Work as early as it can be", "days into the job, on average"),
    "cost": ("All costs", "dollars"),
    "visits and trips": ("Visits and trips", "visits and trips"),
    "people": ("People with work at another time", "people or firms"),
    "pieces": ("Work moved", "pieces"),
    "far": ("How far it moves", "working hours"),
}
"""What a plan aims at, one after another, and in what it is measured, by the name of its stage."""

_MARKS = re.compile(r"([\\`*_{}\[\]<>#|$~!&^=])")
_AT_FIRST = re.compile(r"^(\d*)([-+.)])")
_JOINER = "\u2060"
"""Of no width; breaks what would be read as a sign."""


def escape(text: str) -> str:
    """Return user text on one line, as markdown shows it as it stands: no mark-up, no signs, no links."""
    plain = _MARKS.sub(r"\\\1", " ".join(text.split()))
    plain = _AT_FIRST.sub(r"\1\\\2", plain)
    plain = re.sub(r":(?=[^\s\d])", ":" + _JOINER, plain)
    return re.sub(r"(?i)\bwww\.", "www" + _JOINER + ".", plain)


def html_escape(text: str) -> str:
    """Return user text as figures show it as it stands."""
    return html.escape(" ".join(text.split()), quote=False)


def plain(text: str) -> str:
    """Return the words of a figure without its mark-up."""
    return html.unescape(re.sub(r"</?b>|<br>", "", text))


def listed(lines: Iterable[str]) -> str:
    """Return markdown for a list, one line an entry; entries are already safe."""
    return "\n".join(f"- {line}" for line in lines)
