"""Random histories of a small job: much goes as it should, and then something does not.

The site file changes on the way, people come and go, entries are old or forged, clocks are wrong. Each history ends
with a few questions.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cache
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from scheduler.errors import BadInput
from scheduler.ledger.day_events import LineStruck, NotDone, NoteKept, TestFailed, TrenchInspected
from scheduler.ledger.events import (
    Corrected,
    Event,
    Finished,
    HoldReleased,
    InspectionFailed,
    InspectionPassed,
    InspectionPassedWithConditions,
    PassStands,
    RemainingReported,
    Started,
    VisitBooked,
    VisitCancelled,
)
from scheduler.ledger.ground_events import (
    CoverReported,
    Rained,
    RepairReported,
    StopWork,
    StopWorkLifted,
    UncoverReported,
    WaterStood,
)
from scheduler.ledger.store import Entry
from scheduler.network.derive import derive
from scheduler.network.model import Activity, Hold, Network
from scheduler.site.site_record import Site
from tests.derived import Records, changed, record
from tests.oracle.facts import Question
from tests.records import Record

ZONE = ZoneInfo("America/Denver")
MONDAY = datetime(2026, 6, 15, 7, tzinfo=ZONE)
PEOPLE = ("eye", "eye2", "wire", "boss", "hand", "safe", "nobody")


def _base(r: Records) -> None:
    r["people"] += [
        {"id": "eye2", "name": "X. Sample", "role": "inspector", "of": "City of Sample", "deputy_of": "eye"},
        {"id": "hand", "name": "H. Sample", "role": "trade", "of": "Sample Electric"},
        {"id": "safe", "name": "T. Sample", "role": "competent_person", "of": "Sample Ditching"},
    ]
    r["inspections"][0] |= {"pass_valid_days": 5, "stage": "lines_laid"}
    city = {"authority": "City of Sample", "calendar": "city", "notice_days": 1}
    power = {"authority": "Sample Power", "calendar": "utility", "notice_days": 1}
    r["inspections"] += [
        {
            "id": "I2",
            "name": "Shading",
            "stage": "shaded",
            "lines": ["P1"],
            "rain_allowed_in": 1,
            "hold": "witness",
            **power,
        },
        {"id": "I3", "name": "Water test", "stage": "pressure_test", "lines": ["W1"], "released_by": "eye", **city},
        {"id": "I4", "name": "Trench", "stage": "open_trench", "lines": ["L1"], "alignments": ["B"], **city},
    ]


def _exchange(r: Records) -> None:
    one, other = record(r, "reaches", "R1"), record(r, "reaches", "R2")
    one["id"], other["id"] = "R2", "R1"


def _stretch(r: Records) -> None:
    record(r, "reaches", "R1")["to"] = "1+20"
    record(r, "reaches", "R2")["from"] = "1+20"


def _drain(r: Records) -> None:
    drain = dict(record(r, "lines", "C1"), id="D1", name="Drain", kind="storm", material="pvc_sewer", size_in=3)
    r["lines"].append({**drain, "offset_in": 2, "trade": "gc", "use": "main"})


def _box(r: Records) -> None:
    r["structures"].append(
        {"id": "S9", "kind": "pull_box", "name": "Box", "alignment": "M", "station": "0+50", "trade": "elec",
         "lines": ["P1"], "size_in": [12, 18]}
    )  # fmt: skip


def _replaced(r: Records) -> None:
    r["people"] = [p for p in r["people"] if p["id"] != "eye"]
    record(r, "people", "eye2").pop("deputy_of")
    for inspection in r["inspections"]:
        if inspection.get("released_by") == "eye":
            inspection["released_by"] = "eye2"


EDITS: tuple[Callable[[Records], object], ...] = (
    lambda r: None,
    _exchange,
    _stretch,
    _drain,
    _box,
    _replaced,
    lambda r: record(r, "lines", "P1").update(size_in=3),
    lambda r: record(r, "lines", "P1").update(name="Another name", owner="Sample Power"),
    lambda r: record(r, "lines", "C1").update(route=[{"alignment": "M", "from": "0+00", "to": "1+30"}]),
    lambda r: record(r, "inspections", "I1").update(released_by="boss"),
    lambda r: record(r, "inspections", "I1").update(rain_allowed_in=2),
    lambda r: record(r, "people", "eye").update({"until": "2026-06-16"}),
)


@cache
def site(edit: int) -> tuple[Site, Network]:
    """Return the job with one edit of its site file, and its network."""

    def change(r: Records) -> None:
        _base(r)
        EDITS[edit](r)

    made = changed(change)
    return made, derive(made)


@dataclass
class History:
    """A history while it is made; `past` has every entry with the site file of its time."""

    rng: Random
    record: Record
    at: datetime = MONDAY
    past: list[tuple[Entry, Site]] = field(default_factory=list)
    offset: timedelta = timedelta()
    """How far the clock of the writer is wrong just now."""

    @property
    def network(self) -> Network:
        return self.record.network

    def say(self, event: Event, by: str = "R. Sample") -> None:
        """Write an event down, mostly as the program does; what it refuses is now and then put in all the same."""
        written = self.at + self.offset
        raw = self.rng.random() < 0.01
        try:
            if raw:
                self.record.add(event, written, by)
            else:
                self.record.write(event, written, by)
        except BadInput:
            if self.rng.random() < 0.5:
                return
            self.record.add(event, written, by)
        self.past.append((self.record.entries[-1], self.record.site))

    def when(self) -> datetime:
        """Return when something is said to have happened: now, a while ago, or (wrongly) later."""
        draw = self.rng.random()
        if draw < 0.9:
            return self.at
        if draw < 0.97:
            return self.at - timedelta(minutes=self.rng.choice((1, 30, 200)))
        return self.at + timedelta(minutes=self.rng.choice((4, 90, 2000)))

    def later(self) -> None:
        self.at += timedelta(minutes=self.rng.choice((1, 5, 15, 30, 30, 90)))


def make(seed: int) -> tuple[History, list[Question]]:
    """Return a history and the questions put at its end."""
    rng = Random(seed)
    history = History(rng, Record(*site(0)))
    hasty = rng.random() < 0.15
    for activity in _in_order(history.network, rng.choice((None, None, "R1", "R2", "R3"))):
        _go_on(history, activity, spoiled=0.03 if hasty else 0.004)
        if rng.random() < (0.02 if hasty else 0.004):
            _surprise(history)
    for _ in range(rng.choice((0, 1, 1, 1, 2, 3))):
        _surprise(history)
        history.later()
    return history, [_question(history) for _ in range(3)]


@cache
def _order(edit_network: int) -> tuple[str, ...]:
    import networkx as nx

    from scheduler.network.order import order_of

    network = site(edit_network)[1]
    return tuple(nx.lexicographical_topological_sort(order_of(network.by_id, network.links, network.holds)))


def _in_order(network: Network, reach: str | None) -> list[Activity]:
    """Return the work in an order that keeps its links and holds; of one reach, or of all."""
    work = [network.by_id[i] for i in _order(0) if network.by_id[i].work]
    return [a for a in work if reach is None or a.reach in (reach, "")]


def _go_on(history: History, activity: Activity, spoiled: float) -> None:
    """Do one activity as it should be done, or now and then not."""
    rng = history.rng
    if rng.random() < spoiled:
        return
    holds = [h for h in history.network.holds if h.look == activity.id]
    history.later()
    if activity.kind.is_look:
        for hold in holds:
            _look_and_release(history, hold, spoiled)
        return
    if rng.random() < 0.3:
        history.say(Started(activity=activity.id, when=history.at))
        history.later()
    history.say(Finished(activity=activity.id, when=history.when() if rng.random() < 0.05 else history.at))
    for hold in holds:
        history.later()
        history.say(_release(history, hold, "wire"))


def _look_and_release(history: History, hold: Hold, spoiled: float) -> None:
    rng = history.rng
    if hold.kind == "witness" and rng.random() < 0.5:
        start = history.at + timedelta(minutes=rng.choice((10, 60, 1500, 2880)))
        start = start.replace(minute=0)
        history.say(VisitBooked(visit=hold.id[-30:], of="I2", looks=(hold.look,), start=start))
        if rng.random() < 0.9:
            history.at = max(history.at, start + timedelta(minutes=40))
            return
    who = "wire" if "I2" in hold.id else "eye"
    history.say(InspectionPassed(looks=(hold.look,), inspector=who, when=history.at))
    history.later()
    if rng.random() >= spoiled:
        history.say(_release(history, hold, who))


def _release(history: History, hold: Hold, who: str) -> HoldReleased:
    person = next((p for p in history.record.site.people if p.id == who), None)
    role = person.role if person else "inspector"
    return HoldReleased(hold=hold.id, person=who, role=role, evidence="Seen.", when=history.when())


def _stretch_of(history: History) -> dict[str, Any]:
    alignment, length = history.rng.choice((("M", 160), ("M", 160), ("B", 40)))
    lo = history.rng.choice((0, 0, 20, 40, 60, 100, 120)) % length
    return {
        "alignment": alignment,
        "from_ft": float(lo),
        "to_ft": float(min(length, lo + history.rng.choice((5, 40, 160)))),
    }


def _surprise(history: History) -> None:
    """Let one thing happen that may change the answer."""
    rng, network, when = history.rng, history.network, history.when()
    hold = rng.choice(network.holds)
    work = rng.choice([a for a in network.activities if a.work]).id
    who, looks = rng.choice(PEOPLE), (hold.look,)
    depth, mend, mate = rng.choice(("shading", "fill")), rng.choice((0, 4)), rng.choice(("eye", "eye2", "wire"))
    soon = history.at + timedelta(minutes=rng.choice((-60, 1, 1500)))
    some = Corrected(supersedes=rng.randint(1, max(1, len(history.record.entries))), reason="Wrong.")
    last = Corrected(supersedes=max(1, len(history.record.entries)), reason="Wrong.")
    where = rng.choice(({}, _stretch_of(history)))
    makers: list[tuple[int, Callable[[], object]]] = [
        (3, lambda: history.say(UncoverReported(**_stretch_of(history), depth=depth, when=when))),
        (2, lambda: history.say(CoverReported(**_stretch_of(history), depth=depth, when=when))),
        (2, lambda: history.say(RepairReported(**_stretch_of(history), what="A joint.", when=when))),
        (2, lambda: history.say(WaterStood(**_stretch_of(history), when=when))),
        (4, lambda: history.say(_rain(history))),
        (3, lambda: history.say(_failure(looks, who, mend, when))),
        (2, lambda: history.say(InspectionPassed(looks=looks, inspector=who, when=when))),
        (1, lambda: history.say(_on_condition(looks, who, when))),
        (3, lambda: history.say(PassStands(looks=looks, inspector=mate, words="Dry.", when=when))),
        (3, lambda: _again(history, hold)),
        (2, lambda: history.say(_release(history, hold, who))),
        (2, lambda: history.say(Started(activity=work, when=when))),
        (2, lambda: history.say(RemainingReported(activity=work, hours=rng.choice((0.0, 6.0)), when=when))),
        (1, lambda: history.say(Finished(activity=work, when=when))),
        (1, lambda: history.say(StopWork(who=who, why="No shoring.", when=when, **where))),
        (1, lambda: history.say(StopWorkLifted(stop=_number(history, "stop_work"), who=who, when=when))),
        (3, lambda: _day(history, work, who, when)),
        (2, lambda: history.say(some, _writer(history))),
        (1, lambda: history.say(last, _writer(history))),
        (1, lambda: history.say(VisitBooked(visit="v", of="I2", start=soon))),
        (1, lambda: history.say(VisitCancelled(visit=rng.choice(("v", hold.id[-30:]))))),
        (1, lambda: _old_entry(history, hold, who)),
        (5, lambda: history.record.use(*site(rng.randrange(len(EDITS))))),
        (1, lambda: _pass_time(history)),
        (1, lambda: setattr(history, "offset", timedelta(minutes=rng.choice((0, 0, -300, 600, 9000))))),
    ]  # fmt: skip
    weights = [w for w, _ in makers]
    rng.choices([m for _, m in makers], weights)[0]()


def _day(history: History, work: str, who: str, when: datetime) -> None:
    """Let a test fail, work be left, the trench be inspected or a line be struck; now and then what follows it too."""
    rng, tests = history.rng, [a.id for a in history.network.activities if a.kind.is_test]
    test, stretch = rng.choice([*tests, *tests, *tests, work]), _stretch_of(history)
    entries = len(history.record.entries)
    line, owner = rng.choice((None, "P1")), rng.choice(("", "Sample Power"))
    struck = LineStruck(
        who=rng.choice(PEOPLE), alignment=stretch["alignment"], station_ft=stretch["from_ft"], line=line, owner=owner,
        what="Nicked.", told="Owner and 911.", when=when,
    )  # fmt: skip
    mates = ("safe", "safe", "safe", who)
    match rng.choice(("test", "test", "trench", "trench", "struck", "not done", "note")):
        case "test":
            history.say(TestFailed(activity=test, faults="Lost 5 psi.", repair_hours=2, when=when))
            if rng.random() < 0.6:
                history.later()
                history.say(Finished(activity=test, when=history.when()))
        case "trench":
            history.say(TrenchInspected(**stretch, who=rng.choice(mates), safe=False, words="A crack.", when=when))
            if rng.random() < 0.6:
                history.later()
                part = stretch if rng.random() < 0.5 else _stretch_of(history)
                history.say(TrenchInspected(**part, who=rng.choice(mates), safe=True, when=history.when()))
        case "struck":
            history.say(struck)
            if rng.random() < 0.6:
                number = _number(history, "line_struck")
                history.say(StopWorkLifted(stop=number, who=rng.choice((struck.who, "wire")), when=history.when()))
        case "not done":
            history.say(NotDone(activity=work, because="No pipe.", when=when))
        case "note":
            history.say(NoteKept(words="Muddy.", entry=rng.choice((None, max(1, entries))), when=when))


def _on_condition(looks: tuple[str, ...], who: str, when: datetime) -> InspectionPassedWithConditions:
    return InspectionPassedWithConditions(looks=looks, inspector=who, conditions="Tape.", when=when)


def _failure(looks: tuple[str, ...], who: str, hours: int, when: datetime) -> InspectionFailed:
    return InspectionFailed(looks=looks, inspector=who, faults="wet", repair_hours=hours, when=when)


def _number(history: History, name: str) -> int:
    return next((e.number for e in reversed(history.record.entries) if e.event.name == name), 1)


def _writer(history: History) -> str:
    return history.rng.choice(("R. Sample", "r. sample ", "some labourer", "V. Sample"))


def _rain(history: History) -> Rained:
    start = history.at - timedelta(minutes=history.rng.choice((10, 60, 600)))
    inches = history.rng.choice((None, 0.0, 0.4, 0.8, 3.0))
    return Rained(start=start, until=history.at - timedelta(minutes=history.rng.choice((0, 5))), inches=inches)


def _again(history: History, hold: Hold) -> None:
    """Look and release once more, as is right after something happened."""
    who = "wire" if "I2" in hold.id else "eye"
    history.say(InspectionPassed(looks=(hold.look,), inspector=who, when=history.at))
    history.later()
    history.say(_release(history, hold, who))


def _old_entry(history: History, hold: Hold, who: str) -> None:
    """Put in a look and a release as the version before wrote them."""
    history.record.add(InspectionPassed(looks=(hold.look,), inspector=who, when=history.at), history.at)
    history.past.append((history.record.entries[-1], history.record.site))
    history.record.add(_release(history, hold, who), history.at)
    history.past.append((history.record.entries[-1], history.record.site))


def _pass_time(history: History) -> None:
    history.at += timedelta(days=history.rng.choice((1, 4, 6, 9)))


def _question(history: History) -> Question:
    rng = history.rng
    now = history.at + timedelta(minutes=rng.choice((0, 1, 30, 30, 30, 1440, -400)))
    moment = now + timedelta(minutes=rng.choice((0, 0, 0, 0, 300, 3000)))
    alignment, length = rng.choice((("M", 160), ("M", 160), ("M", 160), ("B", 40)))
    lo = rng.choice((0, 6, 20, 60, 100, 110)) % length
    hi = min(length, lo + rng.choice((1, 10, 40, 100)))
    layer = rng.choice((None, None, 0, 1))
    return Question(alignment, float(lo), float(hi), rng.random() < 0.5, layer, moment, now)
