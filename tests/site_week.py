"""A week on site as the plan of a bundled site makes it happen: what goes wrong, to what, and when.

A piece of work is forgotten, a look fails, a wrong entry is taken back, it rains, work starts late, an inspector stays
away, a firm says no. The same week is walked through the command line and in the browser.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from pathlib import Path

import scheduler
from scheduler import Case, Entry, Options, Planned, Situation
from scheduler.cli.site_today import plan_in_force
from scheduler.ledger.events import PlanAccepted
from scheduler.ledger.place import JournalPlace, place_of
from scheduler.network.kind import Kind
from scheduler.plan import PlanActivity, plan_json
from scheduler.situation import CallDue, all_as_planned, calls_of, ticked_off
from tests.kept_plans import kept_plan

FAULTS = "It leaks"
REPAIR_HOURS = 2
INCHES = 0.8
NOBODY_CALLED = "Nobody called either."
NO = "No crew that day"
LATER = timedelta(days=2)
"""So much later than asked for, the firm that says no can come."""


@dataclass(frozen=True)
class SiteWeek:
    """One bundled site, where its journal lies, and what happens in its week. Times are local to the site."""

    path: Path
    where: str
    """Of the journal: a file or a folder."""

    @cached_property
    def case(self) -> Case:
        """The site."""
        return scheduler.load(self.path)

    @cached_property
    def place(self) -> JournalPlace:
        """Its journal."""
        return place_of(self.case.site, self.case.path, self.where)

    @cached_property
    def first_plan(self) -> tuple[PlanActivity, ...]:
        """The work of the plan in force at the start, in order of time."""
        plan = kept_plan(self.case, Options(only_finish=True)).plan
        with closing(self.place.open()) as journal:
            happened = PlanAccepted(plan=journal.keep_plan(plan_json(plan)), data_date=plan.data_date, why="The first.")
            journal.append(happened, at=plan.data_date + timedelta(hours=6), by="test")
        return tuple(sorted(plan.activities, key=lambda a: (a.start, a.finish, a.id)))

    @cached_property
    def look(self) -> PlanActivity:
        """The first look that the cover of something waits for: it fails."""
        covering = {h.look for h in self.case.network.holds if any(self.buries(g) for g in h.gates)}
        return next(a for a in self.first_plan if a.kind is Kind.INSPECT and a.id in covering)

    @property
    def eve(self) -> datetime:
        """When the look begins; all goes by the plan until then."""
        return self.look.start

    @cached_property
    def morning(self) -> datetime:
        """The next day, before work."""
        return (self.look.finish + timedelta(days=1)).replace(hour=6, minute=30)

    @property
    def rain(self) -> tuple[datetime, datetime]:
        """From when to when it rains, in the night before."""
        return self.morning - timedelta(hours=6), self.morning - timedelta(hours=4)

    @cached_property
    def inspector(self) -> str:
        """Who makes the look that fails, by the id of a person."""
        return next(h for h in self.case.network.holds if h.look == self.look.id).released_by

    @cached_property
    def gates(self) -> tuple[str, ...]:
        """What would cover what the look is about."""
        return tuple(g for h in self.case.network.holds if h.look == self.look.id for g in h.gates if self.buries(g))

    @cached_property
    def forgotten(self) -> PlanActivity:
        """The last work finished by the eve that the look does not wait for: nobody says anything of it."""
        _, planned = self.known()
        found = all_as_planned(
            self.case.site, self.case.network, self.situation(self.eve).state, planned.plan, self.eve
        )
        work = {e.activity for e in found.events if e.name == "finished"} - self._before(self.look.id)
        return [a for a in self.first_plan if a.id in work][-1]

    @cached_property
    def late(self) -> PlanActivity:
        """The first dig planned after the eve: it begins late."""
        return next(a for a in self.first_plan if a.kind is Kind.DIG and a.start > self.eve)

    @property
    def late_at(self) -> datetime:
        """When the late dig begins: an hour after its time, or after work begins in the morning."""
        return max(self.late.start, self.morning + timedelta(minutes=30)) + timedelta(hours=1)

    @cached_property
    def missed(self) -> PlanActivity:
        """The next look planned after that: its inspector stays away."""
        return next(a for a in self.first_plan if a.kind is Kind.INSPECT and a.start > self.late_at)

    @property
    def missed_at(self) -> datetime:
        """When nobody expects the inspector any more."""
        return self.missed.finish + timedelta(hours=1)

    def tests_until(self, when: datetime) -> list[PlanActivity]:
        """Return the tests that the plan has by a moment, but those that wait for what is forgotten.

        Tests are never taken as done: somebody reports each.
        """
        made = [a for a in self.first_plan if a.kind.is_test and a.finish <= when]
        return [a for a in made if self.forgotten.id not in self._before(a.id)]

    @cached_property
    def refused(self) -> CallDue:
        """The call that is answered with no: the first that is due before that for a time to come."""
        due = calls_of(self.situation(self.missed_at))
        return next(c for c in due if c.now is not None and ticked_off(c))

    @property
    def offered(self) -> datetime:
        """From when on they can come instead."""
        assert self.refused.now is not None
        return self.refused.now + LATER

    def buries(self, id_: str) -> bool:
        """Tell whether work hides what lies in the trench."""
        return self.case.network.by_id[id_].kind.buries

    def known(self) -> tuple[tuple[Entry, ...], Planned]:
        """Return what is written down, and the plan in force."""
        return plan_in_force(self.case, self.place)

    def situation(self, at: datetime) -> Situation:
        """Return the site as it stands at a moment: what every output is held against."""
        entries, planned = self.known()
        return scheduler.today(self.case, [e for e in entries if e.at <= at], at, planned)

    def _before(self, id_: str) -> set[str]:
        """Return all that work waits for, and itself."""
        links: dict[str, list[str]] = {}
        for link in self.case.network.links:
            links.setdefault(link.after, []).append(link.before)
        found, open_ = {id_}, [id_]
        while open_:
            new = set(links.get(open_.pop(), ())) - found
            found |= new
            open_ += new
        return found


Step = tuple[str, datetime, Callable[[Situation], bool]]
"""What happened, when the outputs are looked at, and what must be so then."""


def steps(week: SiteWeek) -> Iterator[Step]:
    """Give the steps of a week in their order; whoever walks it writes each down before asking for the next."""

    def failed(now: Situation) -> bool:
        return any(b.kind == "failed" and b.ref == week.look.id for b in now.breaches)

    def blocked(now: Situation) -> bool:
        return failed(now) and all(g in now.work and now.work[g].blocked_by for g in week.gates)

    def forgotten(now: Situation) -> bool:
        return any(b.kind == "not reported" and b.ref == week.forgotten.id for b in now.breaches)

    def late(now: Situation) -> bool:
        return any(b.kind in ("late start", "not reported") and b.ref == week.late.id for b in now.breaches)

    def said_no(now: Situation) -> bool:
        return any(b.kind == "word" and b.ref in week.refused.activities for b in now.breaches)

    def heeded(now: Situation) -> bool:
        starts = [p[0] for a in week.refused.activities if (p := now.work[a].planned)]
        return bool(starts) and min(starts) >= week.offered and not any(b.kind == "word" for b in now.breaches)

    yield "a piece forgotten", week.eve, forgotten
    yield "a failed look", week.morning, blocked
    yield "a wrong entry taken back", week.morning, lambda now: not failed(now)
    yield "the failed look again", week.morning, blocked
    yield "rain", week.morning, lambda now: bool(now.to_inspect)
    yield "a late start", week.late_at, late
    yield "a no-show", week.missed_at, lambda now: any(b.ref == week.missed.id for b in now.breaches)
    yield "a firm that says no", week.missed_at, said_no
    yield "planned again", week.missed_at, heeded
