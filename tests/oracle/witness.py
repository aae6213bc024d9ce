"""Witness points: had the witness the chance to come?"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from scheduler.network.model import Hold
from tests.oracle.facts import (
    BURIES,
    IN_OPEN_TRENCH,
    Fact,
    Spot,
)
from tests.oracle.land import Land


class Witness(Land):
    """Judges appointments."""

    def _witness_had_the_chance(self, hold: Hold, spot: Spot, moment: datetime) -> bool:
        subject = self.inspection_of[hold.look]
        inspection = self.inspections[subject]
        standing: dict[str, Fact] = {}
        for fact in self.of("visit_booked", "visit_cancelled"):
            if fact.event.name == "visit_booked":
                standing[fact.event.visit] = fact
            else:
                standing.pop(fact.event.visit, None)
        clock, look = self.network.clock, self.network.by_id[hold.look]
        calendar = self.network.calendars[look.calendar]
        length = timedelta(minutes=look.work * clock.tick_minutes)
        for fact in standing.values():
            event = fact.event
            if event.seen:
                meant = self._about(fact, subject, spot) is not None
            else:
                meant = hold.look in event.looks if event.looks else event.of == subject
            start, whole = event.start, event.start.astimezone(UTC) + length
            end = event.until or whole
            if not meant or fact.contested or end > moment or end < whole or fact.by_then >= start:
                continue
            if self._said_they_come_later(hold, subject, start):
                continue
            days = {clock.when(a).date() for a, b in calendar.windows if clock.when(a) <= start}
            called = clock.when(clock.tick(fact.by_then, up=True)).date()
            between = [d for d in days if called < d <= start.astimezone(clock.when(0).tzinfo).date()]
            if len(between) < inspection.notice_days:
                continue
            open_then = any(clock.when(a) <= start and whole <= clock.when(b) for a, b in calendar.windows)
            if open_then and self._ready(hold, spot, start) and not self._spoiled(hold, spot, moment, start):
                return True
        return False

    def _said_they_come_later(self, hold: Hold, subject: str, start: datetime) -> bool:
        """Tell whether the last word heard before an appointment was that they cannot come by then."""
        authority = self.inspections[subject].authority.lower()
        names = {authority, subject.lower()}
        for person in self.site.people:
            if person.of.lower() == authority:
                names |= {person.id.lower(), person.name.lower()}
        verdicts = [False]
        for fact in self.of("delayed", "called"):
            event, telephone = fact.event, fact.event.name == "called"
            meant = event.activities if telephone else event.about
            to_them = hold.look in meant or (not meant and not telephone and event.who.lower() in names)
            if fact.by_then >= start or not to_them:
                continue
            if not telephone or event.answer == "refused":
                verdicts.append(event.not_before > start)
            elif event.answer == "agreed" and event.told_start is not None and event.told_start <= start:
                verdicts.append(False)
        return verdicts[-1]

    def _ready(self, hold: Hold, spot: Spot, start: datetime) -> bool:
        shown = {k.before for k in self.network.links if k.after == hold.look and not k.at_most}
        for id_ in self.ancestors(hold.look):
            activity = self.network.by_id[id_]
            laid_over = activity.kind.value in BURIES and id_ in shown
            if not (activity.kind.value in IN_OPEN_TRENCH or laid_over) or (spot[0] and spot[0] not in activity.lines):
                continue
            if activity.alignment and not (
                activity.alignment == spot[1] and activity.from_ft < spot[2] < activity.to_ft
            ):
                continue
            last = self._last(activity, spot[2], start)
            if laid_over and (last is None or last.event.name != "started"):
                if self.buried(activity, spot, start)[1] is None:
                    return False
                continue
            if last is None or last.event.name != "finished" or last.ahead:
                return False
        return True
