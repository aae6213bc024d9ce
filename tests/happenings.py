"""What may happen on a job, for tests: a day's truthful reports, and random ones that make no sense."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from random import Random

from scheduler import Case
from scheduler.ledger.call_events import Called
from scheduler.ledger.day_events import LineStruck, NotDone, NoteKept, TestFailed, TrenchInspected
from scheduler.ledger.events import (
    Corrected,
    Delayed,
    Event,
    Finished,
    HoldReleased,
    InspectionFailed,
    InspectionPassed,
    InspectionPassedWithConditions,
    RemainingReported,
    Started,
    TicketAnswered,
    VisitBooked,
    VisitCancelled,
    VisitConfirmed,
)
from scheduler.ledger.ground_events import CoverReported, Rained, UncoverReported
from scheduler.ledger.store import Entry
from scheduler.plan import Plan


def entries(said: Iterable[tuple[datetime, Event]]) -> list[Entry]:
    """Return entries of a journal, written down in the order given."""
    return [Entry(n, at, "test", event, "", "") for n, (at, event) in enumerate(said, 1)]


def as_planned(case: Case, plan: Plan, until: datetime) -> list[tuple[datetime, Event]]:
    """Return what is written down when all goes by a plan until a moment, looks passed and released at once."""
    holds = {h.look: h for h in case.network.holds}
    looks = {look for rule in case.network.visit_rules for look in rule.looks}
    said: list[tuple[datetime, Event]] = []
    for a in (a for a in plan.activities if a.work_minutes):
        if a.id in looks:
            if a.finish <= until:
                person = next(p for p in case.site.people if p.id == holds[a.id].released_by)
                said.append((a.finish, InspectionPassed(looks=(a.id,), inspector=person.id, when=a.finish)))
                hold, role = holds[a.id].id, person.role
                given = HoldReleased(hold=hold, person=person.id, role=role, evidence="seen", when=a.finish)
                said.append((a.finish, given))
            continue
        if a.start < until:
            said.append((a.start, Started(activity=a.id, when=a.start)))
        if a.finish <= until:
            said.append((a.finish, Finished(activity=a.id, when=a.finish)))
    return sorted(said, key=lambda pair: (pair[0], pair[1].name, str(pair[1])))


def with_tie_ins_released(case: Case, said: list[tuple[datetime, Event]]) -> list[tuple[datetime, Event]]:
    """Return the same with what was kept open released as soon as the outside work that it waited for is finished."""
    people, found = {p.id: p for p in case.site.people}, list(said)
    for hold in case.network.holds:
        person = people.get(hold.released_by)
        for at, event in said:
            if person is not None and isinstance(event, Finished) and event.activity == hold.look:
                given = HoldReleased(hold=hold.id, person=person.id, role=person.role, evidence="seen", when=at)
                found.append((at, given))
    return sorted(found, key=lambda pair: pair[0])


class Chance:
    """Draws events about a job, many of them silly: unknown ids, times to come, ends before beginnings."""

    def __init__(self, case: Case, seed: int, first: datetime, days: int) -> None:
        self.case, self.rng, self.first, self.days = case, Random(seed), first, days
        network = case.network
        self.activities = [a.id for a in network.activities] + ["nothing/like/it", "repair/x/1"]
        self.looks = [look for rule in network.visit_rules for look in rule.looks]
        self.of = [*(r.id for r in network.visit_rules), *(w.id for w in case.site.outside_work), "nobody"]
        self.visits = ["a", "b", *(b.id for b in case.site.bookings)]

    def draw(self, count: int) -> list[tuple[datetime, Event]]:
        """Return so many events in the order in which they are written down."""
        at, said = self.first, []
        for n in range(count):
            at += timedelta(minutes=self.rng.randint(0, 90))
            said.append((at, self._event(n, at)))
        return said

    def _moment(self, around: datetime) -> datetime:
        """Return a moment, most often a little before another."""
        if self.rng.random() < 0.8:
            return around - timedelta(minutes=self.rng.randint(0, 600), seconds=self.rng.randint(0, 59))
        return self.first + timedelta(hours=self.rng.randint(-200, 24 * self.days + 400))

    def _event(self, number: int, at: datetime) -> Event:
        rng, when = self.rng, self._moment(at)
        activity, look = rng.choice(self.activities), rng.choice(self.looks)
        station = float(rng.randint(0, 120))
        stretch = {"alignment": rng.choice(self.case.site.alignments).id, "from_ft": station, "to_ft": station + 60}
        people = [(p.id, p.role) for p in self.case.site.people]
        person, role = rng.choice(people)
        makers = {
            "started": lambda: Started(activity=activity, when=when),
            "finished": lambda: Finished(activity=activity, when=when),
            "remaining": lambda: RemainingReported(activity=activity, hours=rng.choice((0, 1, 7.3, 60)), when=when),
            "delayed": lambda: Delayed(
                who=rng.choice([person, self.case.site.outside_work[0].by, "somebody"]),
                not_before=at + timedelta(hours=rng.choice((-5, 30, 120, 9000))),
                about=rng.choice(((), (activity,))),
            ),
            "booked": lambda: VisitBooked(
                visit=rng.choice(self.visits), of=rng.choice(self.of), start=self._moment(at + timedelta(days=4)),
                firm=rng.random() < 0.3, looks=rng.choice(((), (look,))),
            ),
            "called": lambda: Called(
                of=rng.choice([*self.of, *(t.id for t in self.case.site.trades)]), activities=(activity,), when=when,
                told_start=at + timedelta(hours=rng.choice((-5, 30, 120))),
                answer=rng.choice(("agreed", "no_answer", "refused")),
            ),
            "confirmed": lambda: VisitConfirmed(visit=rng.choice(self.visits)),
            "cancelled": lambda: VisitCancelled(visit=rng.choice(self.visits)),
            "passed": lambda: InspectionPassed(looks=(look,), inspector=person, when=when),
            "conditions": lambda: InspectionPassedWithConditions(
                looks=(look,), inspector=person, when=when, conditions="mend it"
            ),
            "failed": lambda: InspectionFailed(
                looks=(look,), inspector=person, faults="wet", when=when, repair_hours=rng.choice((0, 2, 30))
            ),
            "released": lambda: HoldReleased(
                hold=rng.choice([*(h.id for h in self.case.network.holds), "no/hold"]), person=person, role=role,
                evidence="seen", when=when,
            ),
            "test failed": lambda: TestFailed(
                activity=activity, faults="wet", when=when, repair_hours=rng.choice((0, 2, 30))
            ),
            "not done": lambda: NotDone(activity=activity, because="nobody came", when=when),
            "trench": lambda: TrenchInspected(
                **stretch, who=person, role=role, safe=rng.random() < 0.6, words="a crack", when=when
            ),
            "struck": lambda: LineStruck(
                alignment=stretch["alignment"], station_ft=station, who=person, what="cut", told="911", when=when
            ),
            "note_kept": lambda: NoteKept(words="mud", when=when),
            "covered": lambda: CoverReported(**stretch, when=when),
            "uncovered": lambda: UncoverReported(**stretch, when=when),
            "ticket": lambda: TicketAnswered(
                ticket=rng.choice([t.id for t in self.case.site.locate_tickets]), who="gas",
                answer=rng.choice(("clear", "not_complete")), when=when,
            ),
            "rain": lambda: Rained(start=when, until=when + timedelta(hours=rng.randint(1, 30))),
            "wrong": lambda: Corrected(supersedes=rng.randint(1, max(1, number)), reason="wrong"),
        }  # fmt: skip
        weights = [4 if k in ("started", "finished") else 2 if k in ("passed", "released") else 1 for k in makers]
        return rng.choices(list(makers.values()), weights)[0]()
