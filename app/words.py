"""Moments, spans, amounts and names as people say them, and user text made safe to show."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable
from datetime import date, datetime

from scheduler.plan import Plan

AIMS = {
    "finish": ("Finish", "days after the start"),
    "exposure": ("Open trench", "ft nights"),
    "money": ("Visits and mobilisations", "dollars"),
    "earliness": ("Early starts", "days from the first day to the average start"),
    "cost": ("All costs", "dollars"),
}
"""What a plan aims at, one after another, and in what it is measured, by the name of its stage."""

_MARKS = re.compile(r"([\\`*_{}\[\]<>#|$~!&^=])")
_AT_FIRST = re.compile(r"^(\d*)([-+.)])")
_JOINER = "\u2060"
"""Of no width; breaks what would be read as a sign."""


def moment(when: datetime) -> str:
    """Write a moment: `Tue 9 Mar, 10:30`."""
    return f"{short_day(when)}, {when:%H:%M}"


def short_day(when: date) -> str:
    """Write a day in little room: `Tue 9 Mar`."""
    return f"{when:%a} {when.day} {when:%b}"


def day(when: date) -> str:
    """Write a day: `Tuesday 9 March`."""
    return f"{when:%A} {when.day} {when:%B}"


def from_to(start: datetime, finish: datetime) -> str:
    """Write a stretch of time, the day once when it ends on the day it begins."""
    if start.date() == finish.date():
        return f"{short_day(start)}, {start:%H:%M}-{finish:%H:%M}"
    return f"{moment(start)} to {moment(finish)}"


def amount(value: float | None) -> str:
    """Write a number without needless digits."""
    return "-" if value is None else f"{value:,.1f}".removesuffix(".0")


def hours(minutes: int | None) -> str:
    """Write working minutes as hours."""
    if minutes is None:
        return "an unknown time"
    return f"{amount(minutes / 60)} working hour{'' if minutes == 60 else 's'}"


def count(number: int, one: str, many: str = "") -> str:
    """Write a number of things: `1 look`, `3 looks`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def is_best(plan: Plan) -> bool:
    """Whether no plan can finish earlier, by proof."""
    return plan.status == "optimal" and (plan.finish_bound is None or plan.finish == plan.finish_bound)


def proof(plan: Plan) -> str:
    """Say how sure the finish is."""
    if is_best(plan):
        return "Proved: no plan that keeps these rules finishes earlier."
    if plan.status == "optimal" and plan.finish_bound:
        return f"Proved: {moment(plan.finish_bound)} is the earliest finish; this plan gives some of that up."
    if plan.status == "infeasible":
        return "Proved: these rules cannot all be kept."
    said = "Stopped before it was proved best." if plan.status == "stopped" else "Not proved best."
    return f"{said} No plan can finish before {moment(plan.finish_bound)}." if plan.finish_bound else said


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
