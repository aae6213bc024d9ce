"""Why the plan in force no longer holds: every difference between what is planned and what is on record."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from scheduler.ledger.events import HoldReleased, Refused
from scheduler.ledger.ground_events import Rained
from scheduler.ledger.hold_standing import HoldStatus
from scheduler.ledger.moments import said
from scheduler.plan import Plan
from scheduler.situation.facts_records import repair_id
from scheduler.situation.work_states import WorkReading, WorkStands, WorkState

RELEASE = HoldReleased.model_fields["name"].default
LAPSED = (HoldStatus.LAPSED, HoldStatus.UNDONE, HoldStatus.DOUBTFUL)


@dataclass(frozen=True, slots=True)
class Breach:
    """One difference between plan and record. It ends 'proved': what was proved is no longer what is the case."""

    kind: str
    """'failed', 'late start', 'late finish', 'not reported', 'word', 'rain', 'refused', 'pass', 'ticket', 'stop work',
    'unsafe' or 'appointment'."""
    ref: str
    """The activity, hold, reach, ticket or entry that it is about."""
    since: datetime
    because: str
    """A sentence."""


def breaches(reading: WorkReading, plan: Plan, work: Mapping[str, WorkStands]) -> tuple[Breach, ...]:
    """Return everything in which the record differs from a plan, the earliest first."""
    found = [
        *_failed(reading, plan),
        *(() if reading.proposal else _late(reading, plan, work)),
        *_words(reading, plan),
        *_rain(reading, plan),
        *_passes(reading, plan),
        *_refused(reading, plan),
        *_tickets(reading, work),
        *(Breach("stop work", str(n.number), n.when, f"Work is stopped: {order.why}") for n, order in reading.stops),
        *_unsafe(reading, work),
        *_appointments(reading, plan, work),
    ]
    return tuple(sorted(dict.fromkeys(found), key=lambda b: (b.since, b.kind, b.ref)))


def _failed(reading: WorkReading, plan: Plan) -> Iterator[Breach]:
    """Give looks and tests that failed, where the plan does not have them made good and made again."""
    starts = {a.id: a.start for a in plan.activities}
    for look, failed in reading.facts.failed.items():
        again = starts.get(look)
        mended = failed.last.repair_hours <= 0 or repair_id(look, failed.times) in starts
        if mended and failed.last.when <= plan.data_date and again is not None and again >= failed.last.when:
            continue
        name = reading.known.network.by_id[look].name
        when = said(reading.known.network.clock, failed.last.when)
        yield Breach("failed", look, failed.last.when, f"{name} failed {when}: {failed.last.faults}")


def _late(reading: WorkReading, plan: Plan, work: Mapping[str, WorkStands]) -> Iterator[Breach]:
    """Give work that began or ended later than planned, or that the record should have by now and has not."""
    clock, moment, tick = reading.known.network.clock, reading.known.moment, reading.known.network.clock.tick
    for row in plan.activities:
        stands = work[row.id]
        if row.start == row.finish or row.finish <= plan.data_date:
            continue
        if stands.overdue and stands.state is not WorkState.FAILED:
            ends = row.finish <= moment
            at, what = (row.finish, "finished") if ends else (row.start, "started")
            text = f"{row.name} was to be {what} by {said(clock, at)}; the record does not say so."
            yield Breach("not reported", row.id, at, text)
        elif stands.finished is not None and tick(stands.finished, up=True) > tick(row.finish):
            text = f"{row.name} was finished {said(clock, stands.finished)} instead of {said(clock, row.finish)}."
            yield Breach("late finish", row.id, row.finish, text)
        elif stands.started and not stands.over and tick(stands.started) > tick(row.start):
            text = f"{row.name} was started {said(clock, stands.started)} instead of {said(clock, row.start)}."
            yield Breach("late start", row.id, row.start, text)


def _words(reading: WorkReading, plan: Plan) -> Iterator[Breach]:
    """Give who gave word that they come later than planned."""
    starts = {a.id: a.start for a in plan.activities}
    for id_, word in reading.words.items():
        known = reading.known.state.actual(id_)
        if id_ in starts and starts[id_] < word.not_before and known.start is None and known.finish is None:
            yield Breach("word", id_, starts[id_], reading.wording.sentence(word))


def _rain(reading: WorkReading, plan: Plan) -> Iterator[Breach]:
    """Give rain since the plan was made into trench that nobody has looked at since."""
    if reading.wet:
        last = max((r.until for r in reading.known.state.rain if r.start <= reading.known.moment), default=None)
        if last is not None and last > plan.data_date:
            for reach, because in reading.wet.items():
                yield Breach("rain", reach, last, because)
    clock = reading.known.network.clock
    for rain in () if reading.proposal else reading.known.state.rain:
        if plan.data_date < rain.until and rain.start <= reading.known.moment and _hours_lost(reading, rain, plan):
            text = f"It rained from {said(clock, rain.start)} to {said(clock, rain.until)}, in planned hours of work."
            yield Breach("rain", "site", rain.start, text)


def _hours_lost(reading: WorkReading, rain: Rained, plan: Plan) -> bool:
    """Tell whether work in the trench was planned for the rain and is not on record as done by its planned finish."""
    for row in plan.activities:
        inside = bool(row.reach) and row.start < min(rain.until, reading.known.moment) and row.finish > rain.start
        if inside:
            known = reading.known.state.actual(row.id).finish
            if known is None or known > row.finish:
                return True
    return False


def _passes(reading: WorkReading, plan: Plan) -> Iterator[Breach]:
    """Give passes and releases that are no longer good while something still waits for them."""
    over, starts = reading.facts.done, {a.id: a.start for a in plan.activities}
    for point in reading.points:
        again = starts.get(point.hold.look)
        reckoned = again is not None and again >= plan.data_date and (point.since or again) <= plan.data_date
        if point.status in LAPSED and not reckoned and any(g not in over for g in point.hold.gates):
            tail = f": {point.because}" if point.because else ""
            since = point.since or plan.data_date
            yield Breach("pass", point.hold.id, since, f"{point.hold.name}: {point.status.value}{tail}.")


def _refused(reading: WorkReading, plan: Plan) -> Iterator[Breach]:
    """Give releases that were asked for and refused since the plan was made, and not given since."""
    clear = {p.hold.id for p in reading.points if p.clear}
    names = {h.id: h.name for h in reading.known.network.holds}
    for noted in reading.known.state.counting:
        event = noted.entry.event
        if not isinstance(event, Refused) or event.asked != RELEASE or noted.when <= plan.data_date:
            continue
        if event.about in names and event.about not in clear:
            text = f"{names[event.about]}: a release was refused. {event.reason}"
            yield Breach("refused", event.about, noted.when, text)


def _tickets(reading: WorkReading, work: Mapping[str, WorkStands]) -> Iterator[Breach]:
    """Give locate tickets that have run out, or are not answered, with digging still to come."""
    network, now = reading.known.network, reading.facts.now
    renewed = set(reading.plan.renewals) if reading.plan else set()
    for ticket in network.tickets:
        left = [d for d in ticket.digs if d in work and not work[d].over]
        expiry = max([ticket.expiry, *(r.expiry for r in ticket.renewals if r.id in renewed)])
        if left and expiry <= now:
            at = network.clock.when(expiry)
            text = f"{ticket.name} ran out {said(network.clock, at)}, with digging still to do."
            yield Breach("ticket", ticket.id, at, text)
        for dig in left:
            yield from (
                Breach("ticket", ticket.id, reading.known.moment, b.because)
                for b in work[dig].blocked_by
                if b.kind == "ticket"
            )


def _unsafe(reading: WorkReading, work: Mapping[str, WorkStands]) -> Iterator[Breach]:
    """Give open trench that was found unsafe, where work waits for that."""
    for stands in work.values():
        for blocker in stands.blocked_by:
            if blocker.kind == "unsafe":
                yield Breach("unsafe", blocker.ref, reading.known.moment, blocker.because)


def _appointments(reading: WorkReading, plan: Plan, work: Mapping[str, WorkStands]) -> Iterator[Breach]:
    """Give visits that were called off, or booked for another day than the plan has them."""
    clock, local = reading.known.network.clock, reading.local
    starts = {a.id: a.start.astimezone(local) for a in plan.activities}
    for id_, visit in reading.known.state.visits.items():
        meant = [a for a in visit.booked.looks if a in starts and not work[a].over]
        at = visit.booked.start.astimezone(local)
        if visit.cancelled:
            same = [a for a in meant if starts[a].date() == at.date()]
            if same:
                text = f"The visit '{id_}' on {said(clock, at)} was called off."
                yield Breach("appointment", id_, at, text)
        elif any(starts[a].date() != at.date() for a in meant) and at > reading.known.moment:
            planned = min(starts[a] for a in meant)
            text = f"The visit '{id_}' is booked for {said(clock, at)}; the plan has it {said(clock, planned)}."
            yield Breach("appointment", id_, at, text)
