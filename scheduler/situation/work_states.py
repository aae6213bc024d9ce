"""How each piece of work stands: as recorded, apart from what is planned, and what keeps it from going on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from scheduler.ledger.covering import CoverGround
from scheduler.ledger.event_wording import Wording
from scheduler.ledger.halts import stops, stops_in_force, unsafe_trench
from scheduler.ledger.hold_standing import HoldStatus
from scheduler.ledger.holds import HoldPoint
from scheduler.ledger.known import KnownJob
from scheduler.ledger.moments import said
from scheduler.ledger.rights import names
from scheduler.ledger.trench_watch import enters
from scheduler.network.kind import Kind
from scheduler.network.model import Activity, Network
from scheduler.plan import Plan, PlanActivity
from scheduler.situation.added_by_events import wet_reaches
from scheduler.situation.done_again import steps_again
from scheduler.situation.facts_records import JobFacts
from scheduler.situation.late_words import last_words

SPOILT = (HoldStatus.FAILED, HoldStatus.UNDONE, HoldStatus.LAPSED, HoldStatus.DOUBTFUL)
"""A hold point that was on its way, or given, and is not good any more: nothing goes on behind it."""


class WorkState(StrEnum):
    """How a piece of work stands."""

    DONE = "recorded done"
    TAKEN = "not on record, taken as done"
    BEGUN = "recorded begun"
    FAILED = "failed, to be fixed"
    AGAIN = "to be done again"
    UNREPORTED = "due, not reported"
    BLOCKED = "blocked"
    PLANNED = "planned"


OVER = (WorkState.DONE, WorkState.TAKEN)


@dataclass(frozen=True, slots=True)
class Blocker:
    """One thing that keeps work from going on."""

    kind: str
    """'hold', 'failed', 'late', 'stop work', 'unsafe', 'rain', 'ticket' or 'word'."""
    ref: str
    because: str
    """A sentence."""


@dataclass(frozen=True, slots=True)
class WorkStands:
    """One piece of work at a moment. Times are local to the site; lengths in feet."""

    id: str
    name: str
    kind: Kind
    trade: str
    """Id of the trade; empty where an outside party does it."""
    doer: str
    """Who does it, by name."""
    reach: str
    alignment: str
    from_ft: float
    to_ft: float
    lines: tuple[str, ...]
    layer: int | None
    state: WorkState
    planned: tuple[datetime, datetime] | None
    """From when to when the plan in force has it; None where no plan does."""
    started: datetime | None = None
    """By the record."""
    finished: datetime | None = None
    """By the record."""
    because: str = ""
    """How it stands, in a sentence."""
    blocked_by: tuple[Blocker, ...] = ()
    holds: tuple[HoldPoint, ...] = ()
    """Hold and witness points that it waits for and that are not clear."""
    steps: tuple[str, ...] = ()
    """Of what failed, or is to be done again: what is still to be done of mending, testing and looking, in order."""
    overdue: bool = False
    """Its planned finish has passed, or its planned start on an earlier day, and the record does not say so."""

    @property
    def over(self) -> bool:
        """Whether nothing of it is left to do."""
        return self.state in OVER

    @property
    def may_go_on(self) -> bool:
        """Whether nothing on record keeps it from going on; its hold points may still have to be released first."""
        return not self.over and not self.blocked_by and self.state is not WorkState.FAILED


@dataclass
class WorkReading:
    """What the states of all work are read from."""

    known: KnownJob
    facts: JobFacts
    plan: Plan | None
    points: tuple[HoldPoint, ...]
    doers: Mapping[str, str]
    """By activity: who does it, by name."""
    planned: Network
    """The network that the plan in force was made for."""
    proposal: bool = False
    """Whether that plan is only proposed: then nothing is late against it."""
    _stands: dict[str, WorkStands] = field(default_factory=dict)

    def __post_init__(self) -> None:
        network, site = self.known.network, self.known.site
        self.rows: dict[str, PlanActivity] = {a.id: a for a in self.plan.activities} if self.plan else {}
        self.holds = _held(network, self.points)
        self.before: dict[str, list[str]] = {}
        for link in (*network.links, *(k for k in self.planned.links if k.before.startswith(("repair/", "rain/")))):
            if not link.at_most:
                self.before.setdefault(link.after, []).append(link.before)
        self.words = last_words(site, network, self.known.state.words, begun=self.known.state.begun)
        self.wet = wet_reaches(self.facts)
        self.stops = tuple(stops_in_force(self.known))
        self.wording = Wording(site, network)
        self.local = network.clock.when(0).tzinfo

    def all(self) -> dict[str, WorkStands]:
        """Return how everything stands that is in the job or in the plan in force, by id, in order of the plan."""
        order = sorted(self.rows.values(), key=lambda a: (a.start, a.finish, a.id))
        ids = dict.fromkeys([*(a.id for a in order), *(a.id for a in self.known.network.activities)])
        for id_ in ids:
            self.of(id_)
        return {id_: self._stands[id_] for id_ in ids}

    def of(self, id_: str) -> WorkStands:
        """Return how one piece of work stands."""
        if id_ not in self._stands:
            # Rules may form a circle on paper; whatever is met again while it is read counts as planned.
            self._stands[id_] = self._made(id_, WorkState.PLANNED)
            self._stands[id_] = self._read(id_)
        return self._stands[id_]

    def _made(self, id_: str, state: WorkState, **more: object) -> WorkStands:
        activity, row = self.known.network.by_id.get(id_), self.rows.get(id_)
        like = activity or row
        assert like is not None
        planned = (row.start.astimezone(self.local), row.finish.astimezone(self.local)) if row else None
        return WorkStands(
            id=id_,
            name=like.name,
            kind=like.kind,
            trade=like.trade,
            doer=self.doers.get(id_, ""),
            reach=like.reach,
            alignment=like.alignment,
            from_ft=like.from_ft,
            to_ft=like.to_ft,
            lines=tuple(like.lines),
            layer=like.layer,
            state=state,
            planned=planned,
            holds=tuple(self.holds.get(id_, ())),
            **more,  # type: ignore[arg-type]
        )

    def _read(self, id_: str) -> WorkStands:
        facts, clock, known = self.facts, self.known.network.clock, self.known.state.actual(id_)
        started, finished = (self._past(t) for t in (known.start, known.finish))
        if (failed := facts.failed.get(id_)) is not None:
            because = f"Failed {said(clock, failed.last.when)}: {failed.last.faults}"
            return self._made(id_, WorkState.FAILED, started=started, because=because, steps=steps_again(facts, id_))
        done = facts.done.get(id_)
        if done is not None and done.assumed:
            because = "Not on record; it is taken as done, because what follows has begun."
            row = self.rows.get(id_)
            late = row is not None and not self.proposal and row.start < row.finish <= self.known.moment
            return self._made(id_, WorkState.TAKEN, because=because, overdue=late)
        if done is not None:
            start, end = (t.astimezone(self.local) for t in (done.start, done.finish))
            return self._made(id_, WorkState.DONE, started=started or start, finished=end, because=done.because)
        if finished is not None and id_ not in self.known.network.by_id:
            because = f"It was reported finished {said(clock, finished)}."
            return self._made(id_, WorkState.DONE, started=started, finished=finished, because=because)
        blockers = tuple(dict.fromkeys(self._blockers(id_)))
        if id_ in facts.again and id_ not in facts.begun:
            because = " ".join([facts.again[id_], *(b.because for b in blockers)])
            return self._made(id_, WorkState.AGAIN, because=because, blocked_by=blockers, steps=steps_again(facts, id_))
        if id_ in facts.begun or (started is not None and id_ not in self.known.network.by_id):
            return self._begun(id_, started or facts.begun[id_].start, blockers)
        return self._not_begun(id_, blockers)

    def _past(self, when: datetime | None) -> datetime | None:
        return when.astimezone(self.local) if when is not None and when <= self.known.moment else None

    def _begun(self, id_: str, start: datetime, blockers: tuple[Blocker, ...]) -> WorkStands:
        clock, row = self.known.network.clock, self.rows.get(id_)
        late = row is not None and not self.proposal and row.finish <= self.known.moment
        because = f"Recorded started {said(clock, start)}"
        if row is not None:
            because += f"; planned until {said(clock, row.finish)}"
        because += ", and not reported finished." if late else "."
        state = WorkState.BLOCKED if blockers else WorkState.BEGUN
        because = " ".join([because, *(b.because for b in blockers)])
        start = start.astimezone(self.local)
        return self._made(id_, state, started=start, because=because, blocked_by=blockers, overdue=late)

    def _not_begun(self, id_: str, blockers: tuple[Blocker, ...]) -> WorkStands:
        clock, row, moment = self.known.network.clock, self.rows.get(id_), self.known.moment
        if row is None:
            return self._made(id_, WorkState.BLOCKED if blockers else WorkState.PLANNED, blocked_by=blockers)
        day = moment.astimezone(self.local).date()
        late = row.finish <= moment or row.start.astimezone(self.local).date() < day
        if row.start == row.finish or self.proposal:
            late = False
        if blockers:
            because = " ".join(b.because for b in blockers)
            return self._made(id_, WorkState.BLOCKED, because=because, blocked_by=blockers, overdue=late)
        # A look has no start on record, only its result: it is due once its time is over.
        due = row.finish if row.kind.is_look else row.start
        if due < moment and row.start < row.finish and not self.proposal:
            because = f"Was to start {said(clock, row.start)}; nothing is on record."
            return self._made(id_, WorkState.UNREPORTED, because=because, overdue=late)
        return self._made(id_, WorkState.PLANNED, because=f"Planned {said(clock, row.start)}.")

    def _blockers(self, id_: str) -> Iterator[Blocker]:
        """Give everything on record, or missing from it, that keeps work from going on."""
        activity, row = self.known.network.by_id.get(id_), self.rows.get(id_)
        moment = self.known.moment
        today = moment.astimezone(self.local).date()
        due = row is None or row.start.astimezone(self.local).date() <= today
        yield from self._held(id_)
        if activity is not None:
            yield from self._stopped(activity)
        if activity is not None and activity.reach in self.wet and activity.kind is not Kind.RESTORE:
            yield Blocker("rain", f"rain/{activity.reach}", self.wet[activity.reach])
        if activity is not None and activity.kind is Kind.DIG:
            yield from self._ticket(activity)
        word = self.words.get(id_)
        if word is not None and word.not_before > moment and (row is None or word.not_before > row.start):
            yield Blocker("word", id_, self.wording.sentence(word))
        for before in self.before.get(id_, ()):
            yield from self._behind(before, due=due)

    def _held(self, id_: str) -> Iterator[Blocker]:
        moment = self.known.moment
        planned = {h.id: h.planned_release for h in self.plan.holds} if self.plan else {}
        for point in self.holds.get(id_, ()):
            release, hold = planned.get(point.hold.id), point.hold
            if point.status in SPOILT:
                tail = f": {point.because}" if point.because else ""
                yield Blocker("hold", hold.id, f"{hold.name}: {point.status.value}{tail}.")
            elif point.status is HoldStatus.PASSED and (release is None or release <= moment):
                who = names(point.releasers) if point.releasers else "nobody"
                yield Blocker("hold", hold.id, f"{hold.name}: passed, not released yet; {who} may release it.")
            elif release is None or release <= moment:
                yield Blocker("hold", hold.id, f"{hold.name}: {point.status.value}, not released.")

    def _stopped(self, activity: Activity) -> Iterator[Blocker]:
        """Give orders to stop there, and a trench found unsafe where people must go in or cover something."""
        stretch = (activity.alignment, activity.from_ft, activity.to_ft) if activity.alignment else None
        clock = self.known.network.clock
        for noted, order in self.stops:
            if stops(order, stretch):
                since, who = said(clock, noted.when), self.wording.name(order.who)
                yield Blocker("stop work", str(noted.number), f"Work was stopped {since} by {who}: {order.why}")
        waits = enters(activity) or activity.kind.buries  # nothing may be covered there either
        for noted in unsafe_trench(self.known, stretch) if stretch is not None and waits else ():
            found = said(clock, noted.when)
            text = f"The trench there was found not safe {found}: nobody goes in, and nothing is covered."
            yield Blocker("unsafe", str(noted.number), text)

    def _ticket(self, dig: Activity) -> Iterator[Blocker]:
        for ticket in self.known.network.tickets:
            if dig.id not in ticket.digs:
                continue
            answers = {a.who: a for a in self.known.state.tickets.get(ticket.id, ()) if a.when <= self.known.moment}
            for answer in answers.values():
                if answer.answer == "not_complete":
                    who = self.wording.name(answer.who)
                    yield Blocker("ticket", ticket.id, f"{who} has not finished marking for {ticket.name}.")

    def _behind(self, before: str, *, due: bool) -> Iterator[Blocker]:
        """Give why work waits that comes after something that is held up, or missing from the record."""
        if before not in self.rows and before not in self.known.network.by_id:
            return
        first = self.of(before)
        if first.over:
            return
        if first.state is WorkState.FAILED:
            yield Blocker("failed", before, f"It waits for {first.name}, which failed.")
        elif first.state is WorkState.AGAIN:
            yield Blocker("failed", before, f"It waits for {first.name}, which is to be done again.")
        elif first.blocked_by:
            roots = [b for b in first.blocked_by if b.kind != "late"]
            if roots or due:
                yield (roots or first.blocked_by)[0]
        elif due and first.overdue:
            yield Blocker("late", before, f"It waits for {first.name}, which is not on record as finished.")


def _held(network: Network, points: tuple[HoldPoint, ...]) -> dict[str, list[HoldPoint]]:
    """Return the hold points that are not clear, by the work that waits for them.

    Beside a hold's own gates that is whatever buries the same ground further: it hides what the gate would.
    """
    held: dict[str, dict[str, HoldPoint]] = {}
    by_place: dict[str, list[tuple[Activity, HoldPoint]]] = {}
    for point in points:
        for gate in () if point.clear else point.hold.gates:
            held.setdefault(gate, {})[point.hold.id] = point
            by_place.setdefault(network.by_id[gate].alignment, []).append((network.by_id[gate], point))
    for activity in network.activities:
        if activity.kind.buries and activity.alignment in by_place:
            shading = not activity.kind.fills
            ground = CoverGround(activity.alignment, activity.from_ft, activity.to_ft, shading, activity.layer)
            for hidden, point in by_place[activity.alignment]:
                if ground.hidden_by(hidden):
                    held.setdefault(activity.id, {})[point.hold.id] = point
    return {id_: list(found.values()) for id_, found in held.items()}
