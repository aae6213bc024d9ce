"""'All as planned until now, except …': the entries for work that the plan has by a moment and the record has not.

They bear the planned times. Looks, tests, releases, mends and what outside parties do are never taken as done: they
are given as still to be said, and so is everything that such an entry would contradict on record.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from scheduler.ledger.contradictions import OnRecord, shortened
from scheduler.ledger.day_events import NotDone
from scheduler.ledger.events import Finished, Started
from scheduler.ledger.evidence import REPAIR
from scheduler.ledger.halts import Stretch
from scheduler.ledger.hold_standing import HoldStatus
from scheduler.ledger.holds import hold_points
from scheduler.ledger.moments import said
from scheduler.ledger.state import State
from scheduler.network.model import LinkType, Network
from scheduler.plan import Plan, PlanActivity
from scheduler.site.site_record import Site

WITHIN = timedelta(minutes=30)
"""Work that began no later than this after its planned start can have ended when planned."""
Work = Started | Finished | NotDone


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which work is meant, and what was otherwise than planned, by activity."""

    trade: str = ""
    """Only this trade's; empty: everybody's."""
    stretch: Stretch | None = None
    """Only what lies there; None: everywhere."""
    not_done: Mapping[str, str] = field(default_factory=dict)
    """Why something was not done."""
    left: frozenset[str] = frozenset()
    """Activities of which nothing is to be said."""
    started: Mapping[str, datetime] = field(default_factory=dict)
    """When something began instead."""
    finished: Mapping[str, datetime] = field(default_factory=dict)
    """When something ended instead."""


@dataclass(frozen=True, slots=True)
class StillToSay:
    """Something that is not taken as it was planned: somebody must say what came of it."""

    ref: str
    """An activity, or a hold point."""
    name: str
    because: str


@dataclass(frozen=True, slots=True)
class AsPlanned:
    """What would be written, in order, and what is still to be said."""

    events: tuple[Work, ...]
    still_to_say: tuple[StillToSay, ...]


def all_as_planned(
    site: Site, network: Network, state: State, plan: Plan, until: datetime, wanted: Wanted | None = None
) -> AsPlanned:
    """Return the entries that say that all went as planned until an aware moment, and what they leave open.

    `network` is the job as the site file has it; activities that only the plan knows are left open.
    """
    taking = _Taking(site, network, state, until, wanted or Wanted())
    for activity in sorted(plan.activities, key=lambda a: (a.start, a.finish, a.id)):
        taking.take(activity)
    taking.releases()
    return AsPlanned(tuple(taking.events), tuple(taking.open))


class _Taking:
    """Goes through a plan in the order of its starts."""

    def __init__(self, site: Site, network: Network, state: State, until: datetime, wanted: Wanted) -> None:
        self.site, self.network, self.state, self.until, self.wanted = site, network, state, until, wanted
        self.events: list[Work] = []
        self.open: list[StillToSay] = []
        self.record = OnRecord(site, network, state)
        self._after: dict[str, list[str]] = {}
        for link in network.links:
            if link.type is LinkType.FS and not link.at_most:
                self._after.setdefault(link.before, []).append(link.after)

    def take(self, planned: PlanActivity) -> None:
        """Add what is to be written of one activity, or why it is left open."""
        known, why_not = self.state.actual(planned.id), self.wanted.not_done.get(planned.id)
        start = known.start or self.wanted.started.get(planned.id, planned.start)
        finish = self.wanted.finished.get(planned.id, planned.finish)
        if not self._meant(planned, start):
            return
        if why_not is not None:
            self.events.append(NotDone(activity=planned.id, because=why_not, when=self.until))
            return
        if planned.id in self.wanted.left:
            self._leave(planned, "Left out: nothing is said of it.")
            return
        if because := self._never_assumed(planned):
            self._leave(planned, because)
            return
        if known.not_done is not None:
            self._leave(planned, f"It is on record as not done: {known.not_done.because}")
            return
        late = start - planned.start > WITHIN and planned.id not in self.wanted.finished
        events: list[Work] = [] if known.start else [Started(activity=planned.id, when=start)]
        if finish <= self.until and not late:
            events.append(Finished(activity=planned.id, when=finish))
        self._add(planned, start, finish, events, late=late and finish <= self.until)

    def _meant(self, planned: PlanActivity, start: datetime) -> bool:
        """Tell whether something is due by the moment, asked for, and not on record as finished."""
        wanted = self.wanted
        asked = (not wanted.trade or planned.trade == wanted.trade) and _there(planned, wanted.stretch)
        due = planned.kind.takes_time and planned.work_minutes > 0 and start < self.until
        passed = planned.kind.is_look and self.record.passed(planned.id, self.until)
        named = planned.id in wanted.not_done
        return asked and (due or named) and self.state.actual(planned.id).finish is None and not passed

    def _never_assumed(self, planned: PlanActivity) -> str:
        if planned.kind.is_look:
            return "A look: say whether it passed or failed."
        if planned.kind.is_test:
            return "A test: say whether it passed or failed."
        if planned.kind.is_outside_work:
            return "Others do it: say whether it was done."
        if planned.kind.only_if_reported:
            return "It holds what follows: say whether it was done."
        if planned.id.startswith(REPAIR) or planned.id not in self.network.by_id:
            return "The plan added it after something happened: say whether it was done."
        return ""

    def _add(self, planned: PlanActivity, start: datetime, finish: datetime, events: list[Work], *, late: bool) -> None:
        because = self._otherwise(planned, finish) if any(isinstance(e, Finished) for e in events) else ""
        found = [because] if because else list(dict.fromkeys(t for e in events for t in self._contradicted(e)))
        if found:
            self._leave(planned, " ".join(shortened(found)))
            return
        self.events += events
        if any(isinstance(e, Finished) for e in events):
            self.record.also[planned.id] = finish
        if late:
            clock = self.network.clock
            self._leave(planned, f"It began {said(clock, start)}, later than planned: say when it was finished.")

    def _contradicted(self, event: Work) -> Iterator[str]:
        known = self.state.actual(event.activity)
        if known.start is not None and isinstance(event, Finished) and event.when < known.start:
            yield f"It is on record as begun {said(self.network.clock, known.start)}, after its planned finish."
        else:
            yield from self.record.contradicted_by(event)

    def _otherwise(self, planned: PlanActivity, finish: datetime) -> str:
        """Return what on record shows that something did not end when planned; empty for nothing."""
        clock = self.network.clock
        for id_ in self._after.get(planned.id, ()):
            known, looks = self.state.actual(id_), self.state.looks.get(id_, ())
            times = [t for t in (known.start, known.finish, *(e.when for e in looks)) if t is not None]
            if times and min(times) < finish:
                name, when = self.network.by_id[id_].name, said(clock, min(times))
                return f"{name} is on record {when}, before its planned finish: say when it was finished."
        return ""

    def _leave(self, planned: PlanActivity, because: str) -> None:
        self.open.append(StillToSay(planned.id, planned.name, because))

    def releases(self) -> None:
        """Add the holds that passed and are not released: nobody but their authority says so."""
        wanted = self.wanted
        for point in hold_points(self.site, self.network, self.state, self.until):
            gates = [self.network.by_id[g] for g in point.hold.gates]
            here = wanted.stretch is None or any(_there(g, wanted.stretch) for g in gates)
            if point.status is HoldStatus.PASSED and here and not wanted.trade:
                self.open.append(StillToSay(point.hold.id, point.hold.name, "It passed and is not released yet."))


def _there(piece: object, stretch: Stretch | None) -> bool:
    if stretch is None:
        return True
    alignment, lo, hi = (getattr(piece, k) for k in ("alignment", "from_ft", "to_ft"))
    return bool(alignment == stretch[0] and lo < stretch[2] and hi > stretch[1])
