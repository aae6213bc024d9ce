"""A party's calendar at an address: read by an HTTP client through the gate, and by a second calendar library."""

from __future__ import annotations

import asyncio
import http.client
import secrets
import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import uvicorn
import vobject
from sqlalchemy import create_engine

import scheduler
from app.served.calendar_addresses import CalendarAddresses, CalendarShelf
from app.served.gate import Gate, GateRules
from app.served.serve import main
from app.served.served_settings import read_settings
from app.served.sign_ins import SignIns
from scheduler import Case, bundled_sites, put_in_force
from scheduler.export import read_mail_settings
from scheduler.ledger.call_events import Called
from scheduler.ledger.events import Delayed
from scheduler.ledger.place import place_of
from tests.unit.test_gate import HOST, SECRET, URL, Inside
from tests.unit.test_served_settings import config
from tests.unit.test_situation import planned

__all__ = ["config"]
ELECTRICIAN = "electrician"


class ServedCalendars:
    """A gate on a port of this machine, with the calendars of one site whose plan was accepted."""

    def __init__(self, folder: Path) -> None:
        engine = create_engine(f"sqlite:///{folder / 'in.db'}")
        self.site = folder / "lane.yaml"
        self.addresses = CalendarAddresses(engine)
        self.shelf = CalendarShelf(self.addresses, {"lane": self.site}, URL)
        self.inside = Inside()
        self.logged: list[object] = []
        self.gate = Gate(
            self.inside, SignIns(engine, SECRET), GateRules(URL, HOST, 1000, 20), still=lambda _: False,
            calendars=self.shelf.read, log=self.logged.append,
        )  # fmt: skip
        self.server = uvicorn.Server(uvicorn.Config(self.gate, port=0, log_level="error", lifespan="off"))
        self.thread = threading.Thread(target=lambda: asyncio.run(self.server.serve()), daemon=True)

    def __enter__(self) -> ServedCalendars:
        self.thread.start()
        end = time.monotonic() + 20
        while not self.server.started and time.monotonic() < end:
            time.sleep(0.01)
        return self

    def __exit__(self, *_: object) -> None:
        self.server.should_exit = True
        self.thread.join(timeout=20)

    def ask(self, path: str, method: str = "GET", **headers: str) -> tuple[int, dict[str, str], bytes]:
        port = self.server.servers[0].sockets[0].getsockname()[1]
        with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as client:
            client.request(method, path, headers={"Host": HOST, **{k.replace("_", "-"): v for k, v in headers.items()}})
            answer = client.getresponse()
            return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()


@pytest.fixture
def front(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[ServedCalendars]:
    (tmp_path / "journals").mkdir()
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path / "journals"))
    shutil.copy(bundled_sites()["orchard-lane"], tmp_path / "lane.yaml")
    with ServedCalendars(tmp_path) as served:
        yield served


def accepted(front: ServedCalendars) -> Case:
    """Put the small site's plan in force the day before it begins."""
    case, plan = scheduler.load(front.site), planned().plan
    with closing(place_of(case.site, case.path).open()) as journal:
        put_in_force(journal, plan, by="Ruth Amsel", at=plan.data_date - timedelta(days=1))
    return case


def write(front: ServedCalendars, event: object, at: datetime) -> None:
    case = scheduler.load(front.site)
    with closing(place_of(case.site, case.path).open()) as journal:
        journal.append(event, at=at, by="Ruth Amsel")  # type: ignore[arg-type]


def reminders(book: bytes) -> list[Any]:
    """Return the events with a reminder, in order."""
    found = [e for e in vobject.readOne(book.decode()).vevent_list if "valarm" in e.contents]
    return sorted(found, key=lambda e: e.dtstart.value)


def test_a_subscriber_gets_the_dates_in_force_and_the_same_again_until_something_is_written(front) -> None:
    plan = planned().plan
    accepted(front)
    path = f"/calendar/{front.addresses.make('lane', ELECTRICIAN)}.ics"
    status, head, content = front.ask(path)
    assert (status, head["content-type"]) == (200, "text/calendar; charset=utf-8")
    assert head["cache-control"] == "private, no-cache"
    book = vobject.readOne(content.decode())
    assert book.contents["x-wr-calname"][0].value == f"{plan.site.name}: Electrician"
    assert book.contents["refresh-interval"][0].value == "PT1H"
    assert book.contents["refresh-interval"][0].params == {"VALUE": ["DURATION"]}
    theirs = [a for a in plan.activities if a.trade == ELECTRICIAN and a.work_minutes]
    assert {a.start for a in theirs} <= {e.dtstart.value for e in book.vevent_list}
    assert front.ask(path)[2] == content
    again = front.ask(path, if_none_match=head["etag"])
    assert (again[0], again[1]["etag"], again[2]) == (304, head["etag"], b"")
    assert front.ask(path, "HEAD")[::2] == (200, b"")
    note = Delayed(who="plumber", not_before=plan.data_date + timedelta(days=9), why="No pipe.")
    write(front, note, plan.data_date)
    assert front.ask(path, if_none_match=head["etag"])[0] == 200
    assert front.inside.seen == []


def test_a_reminder_stands_before_the_notice_ends_until_they_agree(front) -> None:
    case, plan = accepted(front), planned().plan
    at = plan.data_date - timedelta(days=1)
    with closing(place_of(case.site, case.path).open()) as journal:
        book = scheduler.calendar_at_address(case, journal, ELECTRICIAN, now=at)
    reminded, *later = reminders(book)
    trade = next(t for t in case.site.trades if t.id == ELECTRICIAN)
    first = min(a.start for a in plan.activities if a.trade == ELECTRICIAN and a.work_minutes)
    assert reminded.dtstart.value == first
    assert reminded.valarm.action.value == "DISPLAY"
    rings = reminded.valarm.trigger.value.astimezone(first.tzinfo)
    assert at < rings
    assert rings.date() <= first.date() - timedelta(days=trade.notice_days)
    work = [a.id for a in plan.activities if a.trade == ELECTRICIAN and a.start.date() == first.date()]
    yes = Called(of=ELECTRICIAN, told_start=first, activities=tuple(work), answer="agreed", when=at)
    write(front, yes, at)
    with closing(place_of(case.site, case.path).open()) as journal:
        book = scheduler.calendar_at_address(case, journal, ELECTRICIAN, now=at)
    assert [e.uid.value for e in reminders(book)] == [e.uid.value for e in later]


def test_an_address_before_any_plan_gives_an_empty_calendar(front) -> None:
    status, _, content = front.ask(f"/calendar/{front.addresses.make('lane', 'everybody')}.ics")
    assert status == 200
    assert b"No plan is in force yet." in content
    assert b"VEVENT" not in content
    assert not list((front.site.parent / "journals").iterdir()), "reading makes no journal"


def test_what_is_no_address_is_one_plain_404_whatever_the_reason(front) -> None:
    good, ended = front.addresses.make("lane", ELECTRICIAN), front.addresses.make("lane", "plumber")
    assert front.addresses.revoke("lane", "plumber") == 1
    elsewhere = front.addresses.make("street", ELECTRICIAN)
    answers = {
        (status, body, tuple(sorted(head)))
        for path in (ended, elsewhere, secrets.token_urlsafe(32), "", good[:-1], good + "x", "../" + good, "%2e%2e/x")
        for status, head, body in [front.ask(f"/calendar/{path}.ics")]
    }
    assert len(answers) == 1
    assert next(iter(answers))[:2] == (404, b"not found\n")
    assert front.ask(f"/calendar/{good}.ics", "POST")[0] == 403, "nothing is written there"
    assert front.ask(f"/calendar/{good}.ics", Host="evil.example")[0] == 400
    assert good not in str(front.logged)
    assert ended not in str(front.logged)


def test_guesses_are_slowed_down_and_calendars_that_are_read_in_earnest_are_not(front) -> None:
    good = front.addresses.make("lane", ELECTRICIAN)
    assert {front.ask(f"/calendar/{good}.ics")[0] for _ in range(30)} == {200}
    assert [front.ask("/calendar/guess.ics")[0] for _ in range(22)] == [404] * 20 + [429] * 2


def test_a_calendar_that_cannot_be_made_just_now_is_told_so_and_tells_no_more(front) -> None:
    accepted(front)
    path = f"/calendar/{front.addresses.make('lane', ELECTRICIAN)}.ics"
    assert front.ask(path)[0] == 200
    front.site.write_text(front.site.read_text().replace("overhead_per_day: 420", "overhead_per_day: 430"))
    status, head, body = front.ask(path)
    assert (status, head["retry-after"], body) == (503, "600", b"not just now\n")


def test_the_mail_servers_stand_in_the_same_configuration(config: Path) -> None:
    server = 'host = "mail.amsel.example"\nport = 587\ntls = "starttls"\nuser = "office"\n'
    config.write_text(f'{config.read_text()}\n[mail]\nsender = "office@amsel.example"\n[mail.smtp]\n{server}')
    settings, _ = read_settings(config)
    assert settings.mail == read_mail_settings(config)
    assert settings.mail.smtp is not None


def test_the_contractor_makes_and_ends_addresses(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calendar", str(config), "lane", "Electrician"]) == 0
    address = capsys.readouterr().out.splitlines()[-1]
    assert address.startswith("https://trench.example/calendar/")
    kept = CalendarAddresses(create_engine(f"sqlite:///{config.parent / 'sign-in.db'}"))
    secret = address.removeprefix("https://trench.example/calendar/").removesuffix(".ics")
    assert kept.whose(secret) == ("lane", ELECTRICIAN)
    assert main(["calendar", str(config), "lane", "nobody"]) == 2
    assert main(["calendar", str(config), "lane", ELECTRICIAN, "--end"]) == 0
    assert kept.whose(secret) is None
