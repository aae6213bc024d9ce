"""What an event that is about to be written contradicts on record. It blocks nothing: whoever writes is asked once.

Work behind a hold that is not released, a test before its pipe is laid, work where it was stopped or in a trench that
nobody inspected, cover over what is not released: each in a sentence that can be shown to whoever reports it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from scheduler.errors import BadInput
from scheduler.ledger.clearance import Clearance
from scheduler.ledger.cover_answer import may_cover
from scheduler.ledger.covering import covered, ground_of
from scheduler.ledger.day_events import NotDone
from scheduler.ledger.event_fields import WorkReport
from scheduler.ledger.events import (
    Event,
    Finished,
    InspectionFailed,
    InspectionPassed,
    InspectionPassedWithConditions,
    RemainingReported,
    Started,
)
from scheduler.ledger.evidence import speaks
from scheduler.ledger.ground_events import CoverReported, RepairReported, UncoverReported
from scheduler.ledger.halts import Stretch, stops, stops_in_force, unsafe_trench
from scheduler.ledger.holds import point_of
from scheduler.ledger.known import KnownJob
from scheduler.ledger.mending import mended_at, mended_since_test
from scheduler.ledger.moments import said
from scheduler.ledger.rights import names, person_of
from scheduler.ledger.seen import LinePart, Looking
from scheduler.ledger.state import State
from scheduler.ledger.trench_watch import enters, not_inspected
from scheduler.network.lying import TRENCH
from scheduler.network.model import Activity, Network
from scheduler.site.site_record import Site

SAID_AT_MOST = 5
"""So many contradictions are said one by one; the rest is counted."""


@dataclass
class OnRecord:
    """A job as recorded, to hold what somebody reports against; `also` is what is written in the same go."""

    site: Site
    network: Network
    state: State
    also: dict[str, datetime] = field(default_factory=dict)
    """When activities were finished by reports that are written together with this one."""

    def __post_init__(self) -> None:
        self._looking = Looking.of(self.network)
        self._clearances: dict[datetime, Clearance] = {}

    def at(self, moment: datetime) -> Clearance:
        """Return what is known at a moment, to judge hold points by."""
        if moment not in self._clearances:
            self._clearances[moment] = Clearance(KnownJob(self.site, self.network, self.state, moment, self._looking))
        return self._clearances[moment]

    def contradicted_by(self, happened: Event) -> Iterator[str]:
        """Give what an event contradicts, in sentences."""
        match happened:
            case WorkReport():
                yield from self._work(happened)
            case InspectionPassed() | InspectionPassedWithConditions():
                for look in happened.looks:
                    if look in self.network.by_id:
                        yield from self._unmended(look, happened.when)
                        yield from self._before(self.network.by_id[look], happened.when)
            case CoverReported():
                yield from self._cover(happened)
            case RepairReported() | UncoverReported():
                stretch = (happened.alignment, happened.from_ft, happened.to_ft)
                yield from self._stopped(stretch, happened.when)

    def _said(self, when: datetime) -> str:
        return said(self.network.clock, when)

    def _work(self, happened: WorkReport) -> Iterator[str]:
        activity = self.network.by_id.get(happened.activity)
        yield from self._same(happened)
        if activity is None or isinstance(happened, NotDone):
            return
        if isinstance(happened, RemainingReported) and happened.hours == 0:
            return
        if activity.kind.is_test:
            for look in self.state.looks:
                if look in self.network.by_id and activity.id in self._needed(look):
                    yield from self._unmended(look, happened.when)
        begun = self.state.actual(activity.id).start is not None
        if activity.kind.is_test or not begun:
            yield from self._before(activity, happened.when)
        yield from self._holds(activity, happened.when)
        stretch = (activity.alignment, activity.from_ft, activity.to_ft) if activity.alignment else None
        yield from self._stopped(stretch, happened.when)
        if stretch is not None and enters(activity):
            yield from self._entered(stretch, happened.when)

    def _same(self, happened: WorkReport) -> Iterator[str]:
        """Give what is on record of the same work."""
        known, when = self.state.actual(happened.activity), happened.when
        done = known.finish
        if done is not None and self._to_be_made_again(happened.activity, done, when):
            return
        match happened:
            case Started() if done is not None and done <= when:
                yield f"It is on record as finished {self._said(done)}: begun again, it must be looked at again."
            case Started() if done is None and known.start is not None:
                yield f"It is on record as begun {self._said(known.start)}."
            case Finished() if done is not None:
                yield f"It is on record as finished {self._said(done)}."
            case Finished() if known.start is not None and when < known.start:
                yield f"It is on record as begun {self._said(known.start)}, after that."
            case NotDone() | RemainingReported() if done is not None and done <= when:
                yield f"It is on record as finished {self._said(done)}; if that is wrong, take that entry back."

    def _to_be_made_again(self, id_: str, done: datetime, when: datetime) -> bool:
        """Tell whether a test was done before a look at what it tested failed: mended, that is tested again."""
        activity = self.network.by_id.get(id_)
        if activity is None or not activity.kind.is_test:
            return False
        if mended_since_test(self.at(when).known, activity) is not None:
            return True
        for look, results in self.state.looks.items():
            last = next((e for e in reversed(results) if e.when <= when), None)
            failed = isinstance(last, InspectionFailed) and done < last.when
            if failed and look in self.network.by_id and id_ in self._needed(look):
                return True
        return False

    def _unmended(self, look: str, when: datetime) -> Iterator[str]:
        """Give a look that was turned down last, with work to mend it, where no mending is on record by then."""
        last = next((e for e in reversed(self.state.looks.get(look, ())) if e.when <= when), None)
        if isinstance(last, InspectionFailed) and last.repair_hours > 0:
            activity = self.network.by_id[look]
            if mended_at(self.state, activity, last.when, when) is None:
                yield f"{activity.name} failed {self._said(last.when)} and is not on record as fixed by then."

    def _before(self, activity: Activity, when: datetime) -> Iterator[str]:
        """Give what must have been done first and is not on record as done by then."""
        for id_ in self._needed(activity.id):
            needed = self.network.by_id[id_]
            failed = self.state.actual(id_).failed
            if failed is not None and failed.when <= when:
                yield f"{needed.name} failed {self._said(failed.when)} and is not on record as passed since."
            elif needed.kind.is_look and not self.passed(id_, when):
                yield f"{needed.name} is not on record as passed by then."
            elif not needed.kind.is_look and not self._finished(needed, when):
                yield f"{needed.name} is not on record as finished by then."

    def _needed(self, activity: str) -> Iterator[str]:
        """Give what an activity directly waits for; what has no length of its own stands for what it waits for."""
        for id_ in dict.fromkeys(self._looking.directly_before(activity)):
            if self.network.by_id[id_].work > 0:
                yield id_
            else:
                yield from self._needed(id_)

    def passed(self, look: str, when: datetime) -> bool:
        """Tell whether the last result of a look by a moment is a pass."""
        results = [e for e in self.state.looks.get(look, ()) if e.when <= when]
        return bool(results) and not isinstance(results[-1], InspectionFailed)

    def _finished(self, activity: Activity, when: datetime) -> bool:
        also = self.also.get(activity.id)
        if also is not None and also <= when:
            return True
        known = self.at(when).known
        last = known.last_reports(activity)
        if all(n is not None and isinstance(n.entry.event, Finished) and speaks(n, when) for n in last):
            return True
        if self._shown(activity.id, when):
            return True
        part = LinePart(activity.alignment, TRENCH, activity.from_ft, activity.to_ft)
        return activity.kind.buries and covered(known.evidence, activity, part, when).done is not None

    def _shown(self, id_: str, when: datetime) -> bool:
        """Tell whether a look that passed by then saw some work done."""
        looks = (k for k in self.state.looks if k in self.network.by_id)
        return any(id_ in self._looking.before(k) and self.passed(k, when) for k in looks)

    def _holds(self, activity: Activity, when: datetime) -> Iterator[str]:
        for hold in self.network.holds:
            if activity.id in hold.gates:
                stretch = (activity.alignment, activity.from_ft, activity.to_ft) if activity.alignment else None
                point = point_of(self.at(when), hold, stretch)
                if not point.clear:
                    because = f" ({point.because})" if point.because else ""
                    yield f"{hold.name} was not released by then: {point.status.value}{because}."

    def _stopped(self, stretch: Stretch | None, when: datetime) -> Iterator[str]:
        for noted, stop in stops_in_force(self.at(when).known):
            if stops(stop, stretch):
                since, who = self._said(noted.felt(when)), self._person(stop.who)
                yield f"Work there was stopped {since} by {who}, and that still stands: {stop.why}"

    def _person(self, id_: str) -> str:
        person = person_of(self.site, id_)
        return names([person]) if person else id_

    def _entered(self, stretch: Stretch, when: datetime) -> Iterator[str]:
        """Give why nobody should have been in the trench; a missing inspection only where any is kept on record."""
        known = self.at(when).known
        unsafe = list(unsafe_trench(known, stretch))
        for noted in unsafe:
            since = self._said(noted.felt(when))
            yield f"The trench there was found not safe {since}, and is not on record as safe since."
        kept = any(known.evidence.inspected(a.id) for a in self.site.alignments)
        if kept and not unsafe and (because := not_inspected(known, stretch)):
            yield f"The trench there: {because}"

    def _cover(self, happened: CoverReported) -> Iterator[str]:
        try:
            answer = may_cover(self.site, self.network, self.state, ground_of(happened), happened.when)
        except BadInput:
            return
        yield from (reason.text for reason in answer.reasons)


def contradictions(
    site: Site, network: Network, state: State, happened: Event, also: Mapping[str, datetime] | None = None
) -> tuple[str, ...]:
    """Return what an event contradicts in the recorded state, in sentences; nothing when it goes well with it."""
    found = list(dict.fromkeys(OnRecord(site, network, state, dict(also or {})).contradicted_by(happened)))
    return shortened(found)


def shortened(found: list[str]) -> tuple[str, ...]:
    """Return the first few sentences, and how many more there are."""
    if len(found) > SAID_AT_MOST:
        return (*found[:SAID_AT_MOST], f"And {len(found) - SAID_AT_MOST} more.")
    return tuple(found)
