"""Stories of one stretch of trench, told a line each, and put into a journal as the program would write them.

The place is Orchard row, the stretch 0+84 to 1+60 of the bundled small site's main trench, in March 2027, with its
water line tested reach by reach. A story is a list
of steps with `;` between them, each `DAY HH:MM what happened`, and where it is not written down as it
happened, by Ruth Amsel, in brackets how: `[written 11 09:50, by Tom Bell]`; `[unchecked]` puts it in as it is, as an
older version of the program or a stranger's hand would.

`TRUE` is the whole story as it should go: the water line laid, tested, looked at and released on Monday the 8th;
covered on Tuesday; the conduits laid, looked at and released by Wednesday 9:45; shaded at 14:00; the shading looked at
on Thursday at 9:00 and released at 9:15. `ALMOST` ends before the look at the shading, `CONDUITS` before the
shading. The question is put on
Thursday the 11th at 10:00 unless the story says otherwise: may Orchard row be filled?
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

from ruamel.yaml import YAML

from scheduler.case import bundled_sites
from scheduler.ledger.call_events import Called
from scheduler.ledger.cover_answer import CoverAnswer, may_cover
from scheduler.ledger.covering import CoverGround
from scheduler.ledger.day_events import LineStruck, NotDone, TestFailed, TrenchInspected
from scheduler.ledger.events import (
    Corrected,
    Delayed,
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
from scheduler.ledger.state import fold, state_at
from scheduler.network.derive import derive
from scheduler.network.model import Network
from scheduler.site.site_record import Site
from tests.records import Record

CORNER = "pole-hedge/L0/lay-service"
"""The service beyond the corner at 1+60, on record before every story: the corner is not covered without it."""
JOINT = "line/water/joint-main-84"
"""The joint with the water line in the next stretch, which no test takes in; it too is on record before every story."""
LAID = ("lay-service", "lay-gate-feeder", "lay-telephone")
TRUE = (
    "8 12:00 finished dig; 8 12:00 finished bed; 8 12:00 finished L0/lay-water; 8 12:00 finished L0/test-water; "
    "8 13:00 passes water by c-dunn; 8 13:05 releases water by c-dunn; "
    "9 10:00 finished L0/shade; 9 11:00 finished L0/fill; "
    "9 15:00 finished L1/lay-service; 9 15:00 finished L1/lay-gate-feeder; 9 15:00 finished L1/lay-telephone; "
    "9 15:00 finished set-pull-box; "
    "10 09:30 passes conduit by c-dunn; 10 09:45 releases conduit by c-dunn; "
    "10 14:00 finished L1/shade; "
    "11 09:00 passes shading by i-haas; 11 09:15 releases shading by i-haas"
)
ALMOST = TRUE.split("; 11 09:00")[0]
"""The same up to the look at the shading."""
CONDUITS = TRUE.split("; 10 14:00")[0]
"""The same up to the release of the conduits."""
LOOKS = {
    "water": "water-test/orchard-row/L0",
    "conduit": "conduit-look/orchard-row/L1",
    "shading": "shading-look/orchard-row/L1",
}
WHOLE = "test: {kind: pressure, set_up_hours: 1, hold_hours: 2}"
"""How the bundled site writes the test of its water line, which by default goes over more than one reach."""
EXTRA = re.compile(r"^site_work: .*\n", re.MULTILINE)
"""What the bundled site writes of the work that every site has; the stories tell of the trench and its lines alone."""
Records = dict[str, Any]


def by_reach() -> str:
    """Return the bundled small site as text, its water line tested reach by reach: what the stories tell of."""
    text = bundled_sites()["orchard-lane"].read_text(encoding="utf-8")
    assert text.count(WHOLE) == 1
    text, found = EXTRA.subn("", text)
    assert found == 1
    return text.replace(WHOLE, WHOLE.replace("}", ", over: reach}"))


def at(day: str | int, clock: str) -> datetime:
    """Return a moment of March 2027, site time; the 1st is a Monday. Days past 31 go on into April."""
    hour, minute = (int(part) for part in clock.split(":"))
    month, number = (3, int(day)) if int(day) <= 31 else (4, int(day) - 31)
    return datetime(2027, month, number, hour, minute, tzinfo=ZoneInfo("America/Denver"))


def _one(records: Records, part: str, id_: str) -> Records:
    found: Records = next(r for r in records[part] if r["id"] == id_)
    return found


def _exchange(records: Records) -> None:
    row, verge = _one(records, "reaches", "orchard-row"), _one(records, "reaches", "lane-verge")
    row["id"], verge["id"] = verge["id"], row["id"]


def _add_drain(records: Records) -> None:
    drain = dict(
        _one(records, "lines", "telephone"), id="drain", name="Drain", kind="storm", material="pvc_sewer", size_in=4
    )
    for key in ("bends", "pull_string", "feeds"):
        drain.pop(key)
    records["lines"].append({**drain, "count": 1, "use": "main", "offset_in": 2, "trade": "plumber", "cover_in": 32})


def _stretch(records: Records) -> None:
    _one(records, "reaches", "orchard-row")["from"] = "0+70"
    _one(records, "reaches", "barn-drive")["to"] = "0+70"


def _new_inspector(records: Records) -> None:
    gone = _one(records, "people", "c-dunn")
    records["people"].remove(gone)
    _one(records, "people", "b-ito").pop("deputy_of")
    for inspection in records["inspections"]:
        if inspection.get("released_by") == "c-dunn":
            inspection["released_by"] = "b-ito"


VARIANTS: dict[str, Callable[[Records], object]] = {
    "as it is": lambda r: None,
    "reaches exchanged": _exchange,
    "a drain added": _add_drain,
    "reach stretched": _stretch,
    "inspector replaced": _new_inspector,
    "service deeper": lambda r: _one(r, "lines", "service").update(cover_in=31),
    "service larger": lambda r: _one(r, "lines", "service").update(size_in=3),
    "service in other material": lambda r: _one(r, "lines", "service").update(material="pvc80"),
    "service named anew": lambda r: _one(r, "lines", "service").update(name="Line to the workshop"),
    "service by another trade": lambda r: _one(r, "lines", "service").update(trade="plumber"),
    "a box added": lambda r: r["structures"].append(
        {"id": "box-2", "kind": "pull_box", "name": "Second box", "alignment": "main", "station": "1+20",
         "trade": "electrician", "lines": ["service"], "size_in": [17, 30], "conduit_gap_in": 28}
    ),
    "box on two lines": lambda r: _one(r, "structures", "pull-box")["lines"].append("gate-feeder"),
    "telephone inspected too": lambda r: _one(r, "inspections", "conduit-look")["kinds"].append("communications"),
    "photographs asked for": lambda r: r.update(site_work={"cover_evidence": True, "machine_delivery": False}),
    "rain allowed 1 in": lambda r: _one(r, "inspections", "shading-look").update(rain_allowed_in=1),
    "shading witnessed": lambda r: _one(r, "inspections", "shading-look").update(hold="witness"),
    "contractor to release": lambda r: _one(r, "inspections", "conduit-look").update(released_by="r-amsel"),
    "nobody to release": lambda r: (
        _one(r, "inspections", "shading-look").update(released_by=None),
        [_one(r, "people", p).update(role="customer") for p in ("i-haas", "j-pace")],
    ),
    "Dunn leaves on the 9th": lambda r: _one(r, "people", "c-dunn").update(until="2027-03-09"),
    "Dunn leaves on the 10th": lambda r: _one(r, "people", "c-dunn").update(until="2027-03-10"),
}  # fmt: skip


@cache
def variant(name: str) -> tuple[Site, Network]:
    """Return the small site changed in one way, and its network."""
    path = bundled_sites()["orchard-lane"]
    records: Records = YAML(typ="safe").load(by_reach())
    VARIANTS[name](records)
    site = Site.model_validate(records).lying_in(path.parent)
    return site, derive(site)


@dataclass
class Story:
    """A story while it is told."""

    record: Record = field(default_factory=lambda: Record(*variant("as it is")))
    moment: datetime = field(default_factory=lambda: at(11, "10:00"))
    clock: datetime | None = None
    ground: CoverGround = field(default_factory=lambda: CoverGround("main", 84, 160))

    def answer(self) -> CoverAnswer:
        """Return what the program answers at its end."""
        entries, now = self.record.entries, self.clock or self.moment
        state = fold(entries, now) if self.clock else state_at(entries, now)
        return may_cover(self.record.site, self.record.network, state, self.ground, self.moment, asked=now)


def told(story: str) -> Story:
    """Tell a story; raises BadInput where the program refuses to write a step."""
    out = Story()
    for done in (CORNER, JOINT):
        out.record.write(Finished(activity=done, when=at(8, "11:00")), at(8, "11:00"))
    whole = story.replace("ALMOST", ALMOST).replace("CONDUITS", CONDUITS).replace("TRUE", TRUE)
    for step in (s.strip() for s in whole.split(";")):
        if step:
            _step(out, step)
    return out


_STEP = re.compile(
    r"(?P<day>\d+) (?P<clock>\d\d:\d\d) (?P<what>.*?)"
    r"(?: \[(?:written (?P<wday>\d+) (?P<wclock>\d\d:\d\d))?,? ?(?:by (?P<by>[^\],]+))?,? ?(?P<raw>unchecked)?"
    r",? ?(?:late: (?P<late>[^\]]+))?\])?"
)


def event_of(story: Story, step: str) -> tuple[Event, datetime]:
    """Return what a step of a story says happened, and when it would be written down; nothing is written."""
    match = _STEP.fullmatch(step)
    assert match, f"no step: {step}"
    when = at(match["day"], match["clock"])
    return _event(story, match["what"], when), when


def _step(story: Story, step: str) -> None:
    if step.startswith("site: "):
        story.record.use(*variant(step.removeprefix("site: ")))
        return
    match = _STEP.fullmatch(step)
    assert match, f"no step: {step}"
    when, what = at(match["day"], match["clock"]), match["what"]
    if what.startswith("ask"):
        story.moment = when
        _ask(story, what.split()[1:])
        return
    if what == "by the clock here":
        story.clock = story.moment = when
        return
    event = _event(story, what, when)
    if match["late"]:
        event = event.model_copy(update={"late_because": match["late"]})
    last = story.record.entries[-1].at if story.record.entries else when
    written = max(last, getattr(event, "until", None) or when)
    if isinstance(event, VisitBooked):
        written = max(last, when)
    if match["wday"]:
        written = at(match["wday"], match["wclock"])
    put = story.record.add if match["raw"] else story.record.write
    put(event, written, match["by"] or "Ruth Amsel")


def _ask(story: Story, words: list[str]) -> None:
    """Read the question: `shading`, a stretch such as `84-100`, `layer 0`."""
    ground: dict[str, Any] = {"from_ft": 84.0, "to_ft": 160.0}
    for n, word in enumerate(words):
        if word == "shading":
            ground["only_shading"] = True
        elif word == "layer":
            ground["layer"] = int(words[n + 1])
        elif "-" in word:
            ground["from_ft"], ground["to_ft"] = (float(x) for x in word.split("-"))
    story.ground = CoverGround("main", **ground)


def _look(words: str) -> tuple[str, ...]:
    return tuple(f"look/{LOOKS[w]}" for w in words.split("+"))


def _event(story: Story, what: str, when: datetime) -> Event:
    for pattern, make in _EVENTS:
        if found := re.fullmatch(pattern, what):
            return make(story, when, *found.groups())
    raise AssertionError(f"nothing known happens in: {what}")


def _role(story: Story, person: str) -> str:
    return next((str(p.role) for p in story.record.site.people if p.id == person), "inspector")


def _ground(text: str) -> dict[str, Any]:
    lo, hi = text.split("-")
    return {"alignment": "main", "from_ft": float(lo), "to_ft": float(hi)}


def _stop(story: Story, when: datetime, where: str, who: str) -> Event:
    place = {} if where == "everywhere" else _ground(where)
    return StopWork(who=who, why="No shoring.", when=when, **place)


def _booked(story: Story, when: datetime, look: str, day: str, clock: str, until: str | None) -> Event:
    start = at(day, clock)
    end = at(day, until) if until else None
    return VisitBooked(visit="v", of=LOOKS[look].split("/")[0], looks=_look(look), start=start, until=end)


def _taken_back(story: Story, when: datetime, what: str) -> Event:
    """Take back the last entry of a kind, by the name of the event."""
    number = next(e.number for e in reversed(story.record.entries) if e.event.name == what)
    return Corrected(supersedes=number, reason="It was wrong.")


Make = Callable[..., Event]
_EVENTS: tuple[tuple[str, Make], ...] = (
    (r"begun the repair of (\S+)", lambda s, t, k: Started(activity=f"repair/{LOOKS[k]}/1", when=t)),
    (r"finished the repair of (\S+)", lambda s, t, k: Finished(activity=f"repair/{LOOKS[k]}/1", when=t)),
    (r"checked the joint at (\S+)", lambda s, t, ft: Finished(activity=f"line/water/joint-main-{ft}", when=t)),
    (r"finished (\S+)", lambda s, t, a: Finished(activity=f"orchard-row/{a}", when=t)),
    (r"begun (\S+)", lambda s, t, a: Started(activity=f"orchard-row/{a}", when=t)),
    (
        r"([\d.]+) h left on (\S+)",
        lambda s, t, h, a: RemainingReported(activity=f"orchard-row/{a}", hours=float(h), when=t),
    ),
    (
        r"test (\S+) fails",
        lambda s, t, a: TestFailed(activity=f"orchard-row/{a}", faults="It lost 5 psi.", when=t),
    ),
    (r"(\S+) not done", lambda s, t, a: NotDone(activity=f"orchard-row/{a}", because="No pipe.", when=t)),
    (
        r"trench (safe|unsafe) (\S+) by (\S+)",
        lambda s, t, k, g, w: TrenchInspected(**_ground(g), who=w, safe=k == "safe", words="A crack.", when=t),
    ),
    (
        r"line struck at (\d+) by (\S+)",
        lambda s, t, x, w: LineStruck(
            who=w,
            alignment="main",
            station_ft=float(x),
            owner="Sorrel Valley Power",
            what="Nicked.",
            told="911",
            when=t,
        ),
    ),
    (r"passes (\S+) by (\S+)", lambda s, t, k, w: InspectionPassed(looks=_look(k), inspector=w, when=t)),
    (
        r"passes (\S+) on condition by (\S+)",
        lambda s, t, k, w: InspectionPassedWithConditions(looks=_look(k), inspector=w, when=t, conditions="Tape it."),
    ),
    (
        r"fails (\S+)(?: with (\d+) h to mend)? by (\S+)",
        lambda s, t, k, h, w: InspectionFailed(
            looks=_look(k), inspector=w, when=t, faults="A joint is dry.", repair_hours=float(h or 0)
        ),
    ),
    (
        r"releases (\S+) by (\S+)",
        lambda s, t, k, w: HoldReleased(
            hold=f"hold/{LOOKS[k]}", person=w, role=_role(s, w), evidence="Seen on site.", when=t
        ),
    ),
    (
        r"word that (\S+) stands by (\S+)",
        lambda s, t, k, w: PassStands(looks=_look(k), inspector=w, when=t, words="Dry."),
    ),
    (r"dug open (\S+)", lambda s, t, g: UncoverReported(**_ground(g), when=t)),
    (r"dug open to the shading (\S+)", lambda s, t, g: UncoverReported(**_ground(g), depth="fill", when=t)),
    (r"covered (\S+)", lambda s, t, g: CoverReported(**_ground(g), when=t)),
    (r"filled (\S+)", lambda s, t, g: CoverReported(**_ground(g), when=t)),
    (r"shaded (\S+)", lambda s, t, g: CoverReported(**_ground(g), depth="shading", when=t)),
    (r"mended (\S+)", lambda s, t, g: RepairReported(**_ground(g), what="A joint.", when=t)),
    (r"water stands (\S+)", lambda s, t, g: WaterStood(**_ground(g), when=t)),
    (
        r"rain(?: of ([\d.]+) in)? until (\d+) (\d\d:\d\d)",
        lambda s, t, i, d, c: Rained(start=t, until=at(d, c), inches=float(i) if i else None),
    ),
    (
        r"stop lifted by (\S+)",
        lambda s, t, w: StopWorkLifted(
            stop=next(e.number for e in s.record.entries if isinstance(e.event, StopWork | LineStruck)), who=w, when=t
        ),
    ),
    (r"stop (\S+) by (\S+)", _stop),
    (r"books (\S+) for (\d+) (\d\d:\d\d)(?: to (\d\d:\d\d))?", _booked),
    (
        r"(\S+) cannot come before (\d+) (\d\d:\d\d)(?: for (\S+))?",
        lambda s, t, w, d, c, k: Delayed(who=w, not_before=at(d, c), about=_look(k) if k else ()),
    ),
    (
        r"is called for (\S+) at (\d+) (\d\d:\d\d), (agreed|refused)",
        lambda s, t, k, d, c, a: Called(
            of=LOOKS[k].split("/")[0], told_start=at(d, c), activities=_look(k), answer=a, when=t
        ),
    ),
    (r"calls the visit off", lambda s, t: VisitCancelled(visit="v")),
    (r"takes back the last (\S+)", _taken_back),
)
