"""What every check of the audit needs: the dates that can be judged, and words for people."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from scheduler.findings import Finding, Severity
from scheduler.network.model import Network
from scheduler.schedule import Schedule, Span
from scheduler.spoken import length, working
from scheduler.units import format_station

NAMED_AT_MOST = 4
"""How many of a crowd a sentence names before it says `and N more`."""

SAID = {"start": "starts", "finish": "finishes"}
"""What an activity does at one of its edges."""


@dataclass(frozen=True)
class AuditFacts:
    """A network, a schedule for it, and the spans of the activities that are in both."""

    network: Network
    schedule: Schedule
    spans: Mapping[str, Span]

    @classmethod
    def of(cls, network: Network, schedule: Schedule) -> AuditFacts:
        """Return the facts of a schedule."""
        spans = {a.id: schedule.dates[a.id] for a in network.activities if a.id in schedule.dates}
        return cls(network, schedule, spans)

    def when(self, tick: int) -> str:
        """Return a tick as people say it."""
        return self.network.clock.spoken(tick)

    def span(self, span: Span) -> str:
        """Return a span as people say it."""
        return f"{self.when(span[0])} to {self.when(span[1])}"

    def name(self, activity_id: str) -> str:
        """Return an activity's name in quotes."""
        activity = self.network.by_id.get(activity_id)
        return f'"{activity.name if activity else activity_id}"'

    def names(self, activity_ids: Iterable[str]) -> str:
        """Return the first few names of a crowd, and how many more there are."""
        return few([self.name(i) for i in activity_ids])

    def place(self, activity_id: str) -> str:
        """Return where on site an activity is: its reach and stations, else its own name."""
        a = self.network.by_id.get(activity_id)
        if a is None:
            return activity_id or "nowhere"
        if a.to_ft > a.from_ft:
            stations = f"{format_station(a.from_ft)} to {format_station(a.to_ft)}"
            return " ".join(part for part in (a.reach or a.alignment, stations) if part)
        return a.reach or a.name

    def calendar_name(self, calendar_id: str) -> str:
        """Return what people call the hours of a calendar."""
        return self.network.calendars[calendar_id].name or calendar_id

    def length(self, ticks: int) -> str:
        """Return a length of time in days, hours and minutes."""
        return length(ticks * self.network.clock.tick_minutes)

    def hours(self, ticks: int) -> str:
        """Return an amount of work in hours and minutes."""
        return working(ticks * self.network.clock.tick_minutes)


def few(words: Sequence[str]) -> str:
    """Return the first few words, and how many more there are."""
    more = len(words) - NAMED_AT_MOST
    return ", ".join(words[:NAMED_AT_MOST]) + (f" and {more} more" if more > 0 else "")


def broken(
    rule: str,
    where: str,
    text: str,
    *,
    found: str,
    required: str,
    remedy: str,
    because: str = "",
    source: str = "",
    severity: Severity = Severity.FIX,
) -> Finding:
    """Return the finding that a rule is broken, its reason told as a second sentence."""
    reason = because.strip()
    if reason:
        text = f"{text} {reason[0].upper()}{reason[1:]}" + ("" if reason[-1] in ".!?" else ".")
    return Finding(rule, severity, where, text, found, required, source, remedy)


AuditCheck = Callable[[AuditFacts], Iterable[Finding]]
"""One check: what it finds broken."""
