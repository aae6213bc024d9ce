"""Calendars, read back with icalendar: what RFC 5545 and RFC 5546 ask for, and what happens when dates move."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime, timedelta
from functools import cache
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
from dateutil.tz import tzical
from icalendar import Calendar

from scheduler.errors import BadInput
from scheduler.export.audiences import EVERYBODY, Audience, parties, visits_made, work_of
from scheduler.export.calendar_files import calendar, read_calendar
from scheduler.export.paper_facts import PaperFacts
from scheduler.export.zone import timezone
from tests.papers import facts_of, planned, renamed
from tests.pictures import SITES, bundled

MADE = datetime(2027, 2, 20, 12, tzinfo=UTC)
ELECTRICIAN = Audience("trade", "electrician", "Electrician")


def read(content: bytes) -> Calendar:
    return Calendar.from_ical(content.decode("utf-8"))


def events(content: bytes) -> dict[str, object]:
    found = {str(e["uid"]): e for e in read(content).walk("VEVENT")}
    assert len(found) == len(read(content).walk("VEVENT"))
    return found


@cache
def closed() -> PaperFacts:
    """Return the small site again, the electrician away on the day on which most would be laid."""
    site = bundled("orchard-lane")[0]
    away = date(2027, 3, 8)
    hours = [
        c.model_copy(update={"closed": [*c.closed, away]}) if c.id == "electrician-hours" else c for c in site.calendars
    ]
    return planned(site.model_copy(update={"calendars": hours}))


@cache
def without_telephone() -> PaperFacts:
    """Return the small site again, without the telephone company's work."""
    site = bundled("orchard-lane")[0]
    kept = [w for w in site.outside_work if w.id != "phone-on"]
    return planned(site.model_copy(update={"outside_work": kept}))


@pytest.mark.known
@pytest.mark.parametrize("name", SITES)
def test_every_calendar_is_what_the_standards_ask_for(name):
    facts = facts_of(name)
    for party in parties(facts):
        content = calendar(facts, party, made=MADE, base="https://trench.example")
        assert all(len(line) <= 75 for line in content.split(b"\r\n"))  # RFC 5545 section 3.1, in octets
        assert content.count(b"\n") == content.count(b"\r\n")
        book = read(content)
        assert book["version"] == "2.0"  # RFC 5545 section 3.7.4
        assert book["prodid"]  # 3.7.3
        assert book["method"] == "PUBLISH"  # RFC 5546 section 3.2.1
        assert [z["tzid"] for z in book.walk("VTIMEZONE")] == [facts.plan.site.time_zone]  # RFC 5545 section 3.2.19
        found = book.walk("VEVENT")
        assert found
        for event in found:
            # RFC 5546 section 3.2.1, the table of PUBLISH: these must be there, an attendee must not.
            assert [k for k in ("uid", "dtstamp", "dtstart", "summary", "organizer") if k not in event] == []
            assert "attendee" not in event
            assert event["status"] in ("CONFIRMED", "TENTATIVE", "CANCELLED")  # RFC 5545 section 3.8.1.11
            assert event["dtstart"].params["TZID"] == facts.plan.site.time_zone  # 3.3.5, form 3
            assert event.decoded("dtstamp") == MADE  # 3.8.7.2: UTC
            assert event.decoded("last-modified") == MADE  # 3.8.7.3
            assert event["sequence"] == 0  # 3.8.7.4
            # 3.8.2.2; what only marks a moment, as concrete that has cured, has no end (3.6.1)
            assert "dtend" not in event or event.decoded("dtend") > event.decoded("dtstart")
            assert UUID(event["uid"]).version == 5  # RFC 7986 section 5.3 asks for a UUID; RFC 9562
            assert str(event["url"]).startswith("https://trench.example/")


@pytest.mark.parametrize("name", SITES)
def test_there_is_an_event_for_each_worked_day_and_each_visit_of_a_party(name):
    facts = facts_of(name)
    for party in parties(facts):
        found = events(calendar(facts, party, made=MADE)).values()
        days = [d for a in work_of(facts, party) for d in facts.days(a)]
        days += [(min(v.start for v in made), max(v.finish for v in made)) for made in visits_made(facts, party)]
        spans = [(e.decoded("dtstart"), e.decoded("dtend" if "dtend" in e else "dtstart")) for e in found]
        assert sorted(spans) == sorted(days)
        assert all(begin.date() == end.date() for begin, end in spans)


def test_an_event_says_where_why_and_what_it_waits_for():
    facts = facts_of("orchard-lane")
    found = events(calendar(facts, EVERYBODY, made=MADE)).values()
    for activity in (a for a in facts.plan.activities if a.kind != "inspect"):
        event = next(e for e in found if str(e["summary"]).startswith(activity.name))
        said = str(event["description"])
        assert str(event.get("location", "")) == facts.place(activity)
        assert activity.because in said
        assert [r.because for r in activity.driven_by if r.because not in said] == []
        assert said.count("HOLD POINT: ") == len(facts.waits_for.get(activity.id, ()))
        assert "Trenches kill." in said
        kinds = [str(c) for c in event["categories"].cats]
        assert kinds[0] == activity.kind.capitalize()
        assert ("No slack" in kinds) == (activity.total_float_minutes == 0)


def test_work_before_and_after_the_clocks_change_keeps_its_local_hours():
    # Daylight saving time begins on 14 March 2027 in Colorado: 15 U.S.C. 260a, second Sunday of March.
    facts = facts_of("orchard-lane")
    zone = ZoneInfo("America/Denver")
    offsets = {}
    for event in events(calendar(facts, EVERYBODY, made=MADE)).values():
        start = event.decoded("dtstart")
        assert start == start.replace(tzinfo=zone)
        assert 7 <= start.hour <= 16
        offsets.setdefault(start.date() >= date(2027, 3, 14), set()).add(start.utcoffset())
    assert offsets == {False: {timedelta(hours=-7)}, True: {timedelta(hours=-6)}}


@pytest.mark.known
@pytest.mark.parametrize(
    "zone",
    ["America/Denver", "Europe/Dublin", "Asia/Kolkata", "Australia/Lord_Howe", "America/St_Johns", "UTC", "Asia/Gaza"],
)
def test_the_time_zone_gives_the_same_offsets_to_a_reader_that_knows_no_zones(zone):
    # dateutil reads nothing but the VTIMEZONE (RFC 5545 section 3.6.5); zoneinfo reads the tz database.
    book = Calendar()
    book.add("prodid", "test")
    book.add("version", "2.0")
    book.add_component(timezone(zone, date(2026, 3, 1), date(2027, 12, 1)))
    told = tzical(io.StringIO(book.to_ical().decode())).get()
    known = ZoneInfo(zone)
    at = datetime(2026, 1, 2)
    while at < datetime(2027, 12, 30):
        aware = at.replace(tzinfo=known)
        skipped = aware.astimezone(UTC).astimezone(known).replace(tzinfo=None) != at
        doubled = aware.utcoffset() != aware.replace(fold=1).utcoffset()
        if not (skipped or doubled):
            assert at.replace(tzinfo=told).utcoffset() == aware.utcoffset(), at
        at += timedelta(minutes=30)


def test_events_keep_their_names_for_good():
    # Were this to change, every event in every phone would stand there twice.
    facts = facts_of("orchard-lane")
    names = events(calendar(facts, ELECTRICIAN, made=MADE))
    name = "Lay Communications conduits, Main drive trench 1+60 to 2+20"
    first = [uid for uid, e in names.items() if str(e["summary"]).removesuffix(" (day 1 of 2)") == name]
    assert first == ["f915e464-f3a6-5bd0-9811-c9806747e1c7"]
    everybody = events(calendar(facts, EVERYBODY, made=MADE))
    assert set(names) <= set(everybody)


def test_the_same_plan_again_changes_nothing_but_the_stamp():
    facts = facts_of("orchard-lane")
    first = calendar(facts, ELECTRICIAN, made=MADE)
    again = calendar(facts, ELECTRICIAN, made=MADE + timedelta(days=3), before=first.decode())
    was, now = events(first), events(again)
    assert was.keys() == now.keys()
    for event in now.values():
        assert event["sequence"] == 0
        assert event.decoded("last-modified") == MADE
        assert event.decoded("dtstamp") == MADE + timedelta(days=3)


@pytest.mark.known
@pytest.mark.parametrize("by", ["plan", "calendar", "both"])
def test_numbers_rise_where_dates_moved_and_only_there(by):
    # RFC 5546 section 2.1.4: SEQUENCE is incremented when DTSTART or DTEND change.
    before, after = facts_of("orchard-lane"), closed()
    first = calendar(before, EVERYBODY, made=MADE)
    second = calendar(
        after,
        EVERYBODY,
        made=MADE + timedelta(days=1),
        earlier=[before] if by != "calendar" else [],
        before=first.decode() if by != "plan" else "",
    )
    was, now = events(first), events(second)
    assert was.keys() <= now.keys()
    moved = set()
    for uid, event in now.items():
        if uid not in was or event["status"] == "CANCELLED":
            assert event["sequence"] == (1 if uid in was else 0)
            continue
        same = all(event.decoded(k) == was[uid].decoded(k) for k in ("dtstart", "dtend"))
        assert event["sequence"] == (0 if same else 1)
        if not same:
            moved.add(uid)
            assert event.decoded("last-modified") == MADE + timedelta(days=1)
    assert 5 < len(moved) < len(now)


def test_numbers_go_on_rising_over_many_plans():
    here, there = facts_of("orchard-lane"), closed()
    plans = [here, there, here, there]
    text, highest = "", []
    for number, facts in enumerate(plans):
        by_plans = calendar(facts, EVERYBODY, made=MADE, earlier=plans[:number])
        text = calendar(facts, EVERYBODY, made=MADE, before=text).decode()
        one, two = ({u: int(e["sequence"]) for u, e in events(c).items()} for c in (by_plans, text.encode()))
        assert one == two
        highest.append(max(one.values()))
    assert highest == [0, 1, 2, 3]


def test_what_fell_away_is_called_off_and_comes_back():
    with_it, without = facts_of("orchard-lane"), without_telephone()
    telephone = next(p for p in parties(with_it) if p.name == "Sorrel Valley Telephone")
    assert telephone not in parties(without)
    assert telephone in parties(without, [with_it])
    (off,) = events(calendar(without, telephone, made=MADE, earlier=[with_it])).values()
    (on,) = events(calendar(with_it, telephone, made=MADE)).values()
    assert (off["status"], off["sequence"], off["uid"]) == ("CANCELLED", 1, on["uid"])
    assert off.decoded("dtstart") == on.decoded("dtstart")
    (still,) = events(calendar(without, telephone, made=MADE, earlier=[with_it, without])).values()
    assert (still["status"], still["sequence"]) == ("CANCELLED", 1)
    (back,) = events(calendar(with_it, telephone, made=MADE, earlier=[with_it, without])).values()
    assert back["status"] != "CANCELLED"
    assert back["sequence"] == 2


def test_work_that_was_over_is_not_called_off():
    with_it, without = facts_of("orchard-lane"), without_telephone()
    telephone = next(p for p in parties(with_it) if p.name == "Sorrel Valley Telephone")
    later = without.plan.model_copy(update={"data_date": with_it.plan.finish + timedelta(days=1)})
    assert (
        events(calendar(PaperFacts(later, without.site, without.network), telephone, made=MADE, earlier=[with_it]))
        == {}
    )


@pytest.mark.known
def test_a_reader_that_imports_each_calendar_in_turn_ends_with_the_last_plan():
    # RFC 5546 section 2.1.5: the higher SEQUENCE wins; at the same SEQUENCE the later DTSTAMP.
    kept: dict[str, object] = {}
    plans = [facts_of("orchard-lane"), closed(), without_telephone()]
    for number, facts in enumerate(plans):
        made = MADE + timedelta(days=number)
        for uid, event in events(calendar(facts, EVERYBODY, made=made, earlier=plans[:number])).items():
            old = kept.get(uid)
            rank = (event["sequence"], event.decoded("dtstamp"))
            if old is None or rank > (old["sequence"], old.decoded("dtstamp")):
                kept[uid] = event
    shown = sorted((e.decoded("dtstart"), str(e["summary"])) for e in kept.values() if e["status"] != "CANCELLED")
    fresh = events(calendar(plans[-1], EVERYBODY, made=MADE)).values()
    assert shown == sorted((e.decoded("dtstart"), str(e["summary"])) for e in fresh)


@pytest.mark.known
def test_names_cannot_break_out_of_their_property():
    # RFC 5545 section 3.3.11: TEXT is escaped and holds no control characters.
    evil = "x\r\nEND:VEVENT\r\nBEGIN:VEVENT\nATTENDEE:mailto:a@b.example\r, ; \\ \x00 ü"
    facts = planned(renamed(bundled("orchard-lane")[0], lambda name: name + evil))
    party = Audience("trade", "electrician", "Electrician" + evil)
    content = calendar(facts, party, made=MADE)
    found = read(content).walk("VEVENT")
    assert len(found) == sum(len(facts.days(a)) for a in work_of(facts, party)) + len(visits_made(facts, party))
    assert not any("attendee" in e for e in found)
    assert not any(c < 32 and c not in (9, 10, 13) for c in content)
    assert content.count(b"\r") == content.count(b"\r\n")
    assert any("END:VEVENT BEGIN:VEVENT ATTENDEE" in str(e["summary"]) and "ü" in str(e["summary"]) for e in found)


def test_visits_that_are_booked_are_certain_and_others_are_not():
    facts = facts_of("orchard-lane")
    found = events(calendar(facts, EVERYBODY, made=MADE)).values()
    by_name = {str(e["summary"]): str(e["status"]) for e in found}
    assert by_name["Set the new service pole"] == "CONFIRMED"  # booked for that very day in the site file
    assert by_name["Pull the communications cable and activate"] == "TENTATIVE"
    visits = {s for name, s in by_name.items() if name.startswith("Inspector's visit")}
    assert visits == {"TENTATIVE"}


def test_an_activity_over_a_weekend_gives_no_event_on_it():
    facts = facts_of("lantern-street")
    over = [a for a in facts.plan.activities if a.start.weekday() == 4 and a.finish.date() > a.start.date()]
    assert over
    for activity in over:
        days = [start.date() for start, _ in facts.days(activity)]
        assert days[0].weekday() == 4
        assert days[1] >= days[0] + timedelta(days=3)  # a Tuesday after a holiday
        assert all(day.weekday() < 5 for day in days)
        assert days[-1] == activity.finish.date()


OURS = "BEGIN:VCALENDAR\r\nPRODID:-//joint-trench-scheduler//x//EN\r\nBEGIN:VEVENT\r\nUID:1\r\n"
END = "END:VEVENT\r\nEND:VCALENDAR\r\n"


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("no calendar", "text that is no iCalendar"),
        ("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Another//EN\r\nEND:VCALENDAR\r\n", "made by -//Another//EN"),
        (OURS + END, "text that is no iCalendar"),
        (OURS + "DTSTART;VALUE=DATE:20270101\r\n" + END, "an event without time zone"),
        ("x" * 5_000_001, "5.0 MB"),
    ],
    ids=["text", "another's", "broken", "all day", "huge"],
)
def test_a_calendar_that_is_not_ours_is_refused_in_words(text, found):
    with pytest.raises(BadInput) as bad:
        read_calendar(text)
    assert "cannot be read, so its events cannot be updated in place" in str(bad.value)
    assert found in str(bad.value)
