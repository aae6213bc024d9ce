"""May this stretch be covered? Yes, No, or Ask again, with every reason and who can clear it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.ledger.clearance import Clearance
from scheduler.ledger.covering import CoverGround
from scheduler.ledger.day_events import TestFailed, TrenchInspected
from scheduler.ledger.doers import trade_names
from scheduler.ledger.earliest import Earliest
from scheduler.ledger.events import InspectionPassedWithConditions
from scheduler.ledger.halts import failed_tests, stops, stops_in_force, unsafe_trench
from scheduler.ledger.heads import head_of
from scheduler.ledger.hold_standing import GRAVEST_FIRST, HoldStatus
from scheduler.ledger.holds import HoldPoint, point_of
from scheduler.ledger.known import KnownJob
from scheduler.ledger.left_open import left_open
from scheduler.ledger.mending import tests_again
from scheduler.ledger.moments import said
from scheduler.ledger.rights import authority_of, names
from scheduler.ledger.state import State
from scheduler.ledger.unfinished import tests_before_mending, unfinished
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.site.site_record import Site
from scheduler.spoken import in_words, typed
from scheduler.units import TOUCH_FT, format_station


class CoverVerdict(StrEnum):
    """The three answers."""

    YES = "Yes"
    NO = "No"
    ASK_AGAIN = "Ask again"


@dataclass(frozen=True, slots=True)
class CoverReason:
    """One thing that stands against covering."""

    kind: str
    """'hold', 'witness', 'work', 'stop', 'trench', 'clock' or 'journal'."""
    ref: str
    text: str
    who: str
    """Who can clear it."""
    earliest: datetime | None
    """When at the earliest, by the booking, else the plan, else their calendar and notice."""
    since: datetime | None = None
    ask: bool = False
    """It was released, but whoever is named must be asked whether that still holds."""


@dataclass(frozen=True, slots=True)
class CoverAnswer:
    """The verdict at the moment asked about, with every reason, and how far the journal had been written."""

    verdict: CoverVerdict
    moment: datetime
    reasons: tuple[CoverReason, ...] = ()
    entry: int = 0
    """Number of the last entry that was known; 0 for none."""
    head: str = ""
    """Its number and short code, to compare with one noted elsewhere: `57:7F3K-9QXD-M2TA`."""
    left_open: tuple[str, ...] = ()
    """What stays out of the cover, in a sentence each: ends of lines whose joint is made and checked later."""

    @property
    def yes(self) -> bool:
        """Whether the stretch may be covered; for no other verdict may it."""
        return self.verdict is CoverVerdict.YES

    @property
    def may_be_by_then(self) -> bool:
        """Whether every reason can be cleared by the moment asked about, though none is yet."""
        return not self.yes and all(r.earliest is not None and r.earliest <= self.moment for r in self.reasons)


def may_cover(
    site: Site,
    network: Network,
    state: State,
    ground: CoverGround,
    moment: datetime,
    *,
    schedule: Schedule | None = None,
    asked: datetime | None = None,
) -> CoverAnswer:
    """CoverAnswer whether a stretch may be covered at an aware moment, by everything the journal says.

    `asked` is when the question is put (None: at that moment), from which what is still open can be
    cleared at the earliest. `schedule` holds the dates of the current plan, where there is one.
    Raises BadInput when the job has nothing to cover there.
    """
    now = asked or moment
    length = next((a.length_ft for a in site.alignments if a.id == ground.alignment), 0.0)
    if ground.to_ft > length + TOUCH_FT or not any(ground.hidden_by(a) for a in network.activities):
        place = f"{ground.alignment} {format_station(ground.from_ft)} to {format_station(ground.to_ft)}"
        raise BadInput(
            [
                Finding(
                    "cover/where",
                    Severity.STOP,
                    place,
                    "is nowhere that this job covers anything.",
                )
            ]
        )
    clearance = Clearance(KnownJob(site, network, state, moment))
    earliest = Earliest(clearance, now, schedule)
    reasons = [
        *_clock(state, now),
        *_halts(clearance.known, ground),
        *_holds(clearance, earliest, ground, now),
        *unfinished_reasons(clearance, earliest, ground, now),
    ]
    return replace(_answer(reasons, state, moment), left_open=tuple(left_open(clearance.known, ground)))


def no_answer(fault: BadInput, moment: datetime) -> CoverAnswer:
    """Return the No that holds while the journal cannot be read: nobody knows what is on record."""
    reasons = tuple(
        CoverReason(
            "journal", f.rule, f"The record cannot be read: {f.where} {f.text}", "whoever keeps the journal", None
        )
        for f in fault.findings
    )
    return CoverAnswer(CoverVerdict.NO, moment, reasons)


def _answer(reasons: list[CoverReason], state: State, moment: datetime) -> CoverAnswer:
    verdict = CoverVerdict.YES
    if reasons:
        verdict = CoverVerdict.ASK_AGAIN if all(r.ask for r in reasons) else CoverVerdict.NO
    last = state.last
    return CoverAnswer(
        verdict,
        moment,
        tuple(reasons),
        last.number if last else 0,
        str(head_of([last.entry])) if last and last.entry.hash else "",
    )


def _clock(state: State, now: datetime) -> Iterator[CoverReason]:
    """Give the reason that the clock here stands before the last entry: one of the two clocks is wrong."""
    last = state.last
    if last is not None and last.number in state.clock_ahead:
        at = last.entry.at.astimezone(now.tzinfo)
        text = in_words(
            "Entry {number} was written at {when} by its clock, which has not come yet by the clock here: one of the "
            "two is wrong, so nobody can tell what came last.",
            number=last.number,
            when=typed(at),
        )
        yield CoverReason("clock", str(last.number), text, in_words("whoever sets the clocks"), None, ask=True)


def _halts(known: KnownJob, ground: CoverGround) -> Iterator[CoverReason]:
    """Give stops that hold there, and where the trench was found unsafe."""
    stretch, clock = (ground.alignment, ground.from_ft, ground.to_ft), known.network.clock
    for noted, stop in stops_in_force(known):
        if not stops(stop, stretch):
            continue
        since = noted.felt(known.moment)
        who = _who(known, stop.who)
        text = in_words("Work was stopped {when} by {who}: {why}", when=said(clock, since), who=who, why=stop.why)
        yield CoverReason("stop", f"entry {noted.number}", text, who, None, since)
    for noted in unsafe_trench(known, stretch):
        found, since = noted.entry.event, noted.felt(known.moment)
        assert isinstance(found, TrenchInspected)
        who = _who(known, found.who)
        when = said(clock, since)
        text = in_words("The trench was found not safe {when} by {who}: {why}", when=when, who=who, why=found.words)
        yield CoverReason("trench", f"entry {noted.number}", text, who, None, since)


def _who(known: KnownJob, id_: str) -> str:
    return next((names([p]) for p in known.site.people if p.id == id_), id_)


def _holds(clearance: Clearance, earliest: Earliest, ground: CoverGround, now: datetime) -> Iterator[CoverReason]:
    known, network = clearance.known, clearance.known.network
    today = Clearance(known.at(min(now, known.moment)))
    for hold in network.holds:
        gates = [g for g in map(network.by_id.__getitem__, hold.gates) if ground.hidden_by(g)]
        points = []
        for gate in gates:
            lo, hi = max(gate.from_ft, ground.from_ft), min(gate.to_ft, ground.to_ft)
            point = point_of(clearance, hold, (gate.alignment, lo, hi))
            if point.status is HoldStatus.UNATTENDED:  # nobody can know beforehand that a witness will stay away
                point = point_of(today, hold, (gate.alignment, lo, hi))
            points.append(point)
        worst = min(points, key=lambda p: GRAVEST_FIRST.index(p.status), default=None)
        if worst is None or worst.clear:
            continue
        text = _words(known, worst)
        who = names(worst.releasers) if worst.releasers else _nobody(known, worst)
        ask = worst.status is HoldStatus.DOUBTFUL
        yield CoverReason(hold.kind, hold.id, text, who, earliest.of(worst), worst.since, ask)


def _nobody(known: KnownJob, point: HoldPoint) -> str:
    authority = authority_of(known.site, known.network, point.hold)
    of = authority or in_words("the authority")
    return in_words("nobody: name somebody of {authority} under people in the site file", authority=of)


def _words(known: KnownJob, point: HoldPoint) -> str:
    name, clock, look = point.hold.name, known.network.clock, point.look
    when = said(clock, look.when) if look is not None else ""
    because = f" ({point.because})" if point.because else ""
    match point.status:
        case HoldStatus.FAILED:
            since = said(clock, point.since) if point.since else when
            links = tests_again(known.network, known.state, point.hold.look, look.when) if look is not None else []
            again = [known.network.by_id[k.before].name for k in links]
            tests = "".join(in_words(", {test} made again", test=test) for test in again)
            failed = "{name}: failed {when}; it must be fixed{tests} and looked at again."
            return in_words(failed, name=name, when=since, tests=tests)
        case HoldStatus.UNDONE:
            undone = "{name}: {why}, after it was looked at; it must be looked at again."
            return in_words(undone, name=name, why=point.because)
        case HoldStatus.PASSED if isinstance(look, InspectionPassedWithConditions):
            on_condition = "{name}: passed {when} on condition: {conditions} Not released yet."
            return in_words(on_condition, name=name, when=when, conditions=look.conditions)
        case HoldStatus.PASSED if look is not None:
            return in_words("{name}: passed {when}, but not released yet.", name=name, when=when)
        case HoldStatus.PASSED:
            return in_words("{name}: done, but not released yet.", name=name)
        case HoldStatus.LAPSED if point.good_until is not None:
            lapsed = "{name}: its release was good until {when}; it must be looked at again."
            return in_words(lapsed, name=name, when=said(clock, point.good_until))
        case HoldStatus.DOUBTFUL:
            return in_words("{name}: ask again, because {why}.", name=name, why=point.because)
        case _:
            return in_words("{name}: not released yet{because}.", name=name, because=because)


def unfinished_reasons(
    clearance: Clearance, earliest: Earliest, ground: CoverGround, now: datetime
) -> Iterator[CoverReason]:
    """Give failed tests of what lies there, and work before the cover that is neither reported finished nor seen."""
    known, told = clearance.known, set()
    trades = trade_names(known.site, known.state)
    for noted in failed_tests(known, (ground.alignment, ground.from_ft, ground.to_ft)):
        failed, at = noted.entry.event, noted.felt(known.moment)
        assert isinstance(failed, TestFailed)
        told.add(failed.activity)
        test = known.network.by_id.get(failed.activity)
        name, failed_at = test.name if test else failed.activity, said(known.network.clock, at)
        text = in_words("{name}: failed {when}. {faults}", name=name, when=failed_at, faults=failed.faults)
        who = trades.get(test.trade, test.trade) if test else ""
        yield CoverReason("work", failed.activity, text, who or in_words("whoever tests it"), None, at)
    for test, mended in tests_before_mending(clearance, ground):
        if test.id not in told:
            told.add(test.id)
            made_before = "{name}: made before what was fixed {when}; it is made again."
            text = in_words(made_before, name=test.name, when=said(known.network.clock, mended))
            yield CoverReason(
                "work", test.id, text, trades.get(test.trade, test.trade) or in_words("whoever tests it"), None, mended
            )
    for activity, since in unfinished(clearance, ground):
        if activity.id in told:
            continue
        planned = earliest.planned(activity.id)
        when = max(planned[1], now) if planned else None
        if since is None:
            text = in_words("{name}: not reported as finished.", name=activity.name)
        else:
            begun = said(known.network.clock, since)
            text = in_words("{name}: begun {when} and not reported as finished.", name=activity.name, when=begun)
        who = trades.get(activity.trade, activity.trade) or in_words("whoever does it")
        yield CoverReason("work", activity.id, text, who, when, since)
