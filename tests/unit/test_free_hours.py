"""When somebody is free by their own calendar: availability, free-busy times and appointments, worked by hand."""

from __future__ import annotations

import http.server
import shlex
import ssl
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from scheduler.cli import main
from scheduler.cli.what_if import supposed
from scheduler.errors import BadInput
from scheduler.export.mail.free_hours import FreeHours, free_hours
from scheduler.situation.call_list import calls_of
from tests.mails import MailedJob
from tests.unit.test_invitations import certificate, job

__all__ = ["certificate", "job"]
LOOK = "shading-look"
"""Of the building inspector, who comes Tuesday and Thursday 8:00 to 12:00 by the site file."""


def calendar(*parts: str) -> str:
    return "\r\n".join(["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//test//EN", *parts, "END:VCALENDAR", ""])


def entry(start: str, end: str, *more: str, kind: str = "VEVENT") -> str:
    lines = [f"BEGIN:{kind}", "UID:a", "DTSTAMP:20270101T000000Z", f"DTSTART{start}", f"DTEND{end}", *more]
    return "\r\n".join([*lines, f"END:{kind}"])


def told(job: MailedJob, *parts: str, days: int = 12) -> list[str]:
    """Return the free times of the building inspector from Monday 1 March 7:00 on."""
    return [line.removeprefix("- ") for line in found(job, *parts, days=days).as_open_days()]


def found(job: MailedJob, *parts: str, days: int = 12, of: str = LOOK) -> FreeHours:
    return free_hours(job.situation(job.begin + timedelta(days=1, hours=7)), of, calendar(*parts), days)


def free(*rows: tuple[int, str]) -> list[str]:
    return [f"{{date: 2027-03-{day:02}, hours: {hours}}}" for day, hours in rows]


WHOLE = free((2, "08:00-12:00"), (4, "08:00-12:00"), (9, "08:00-12:00"), (11, "08:00-12:00"))
DENVER = ";TZID=America/Denver:"


def test_an_empty_calendar_leaves_all_of_their_hours(job: MailedJob) -> None:
    assert told(job) == WHOLE


def test_appointments_take_time_and_those_that_do_not_count_take_none(job: MailedJob) -> None:
    busy = entry(f"{DENVER}20270302T090000", f"{DENVER}20270302T100000")
    assert told(job, busy)[:2] == free((2, "08:00-09:00"), (2, "10:00-12:00"))
    rounded = entry(":20270302T160500Z", ":20270302T161000Z")  # 9:05 to 9:10 takes the quarter of an hour around it
    assert told(job, rounded)[:2] == free((2, "08:00-09:00"), (2, "09:15-12:00"))
    assert told(job, entry(":20270302T160000Z", ":20270302T170000Z", "TRANSP:TRANSPARENT")) == WHOLE
    assert told(job, entry(":20270302T160000Z", ":20270302T170000Z", "STATUS:CANCELLED")) == WHOLE
    holiday = entry(";VALUE=DATE:20270304", ";VALUE=DATE:20270310")
    assert told(job, holiday) == [WHOLE[0], WHOLE[3]]


def test_a_series_keeps_its_hour_over_the_change_of_the_clocks(job: MailedJob) -> None:
    weekly = entry(f"{DENVER}20270302T080000", f"{DENVER}20270302T100000", "RRULE:FREQ=WEEKLY;BYDAY=TU,TH",
                   "EXDATE;TZID=America/Denver:20270304T080000")  # fmt: skip
    after = told(job, weekly, days=17)
    want = free((2, "10:00-12:00"), (4, "08:00-12:00"), (9, "10:00-12:00"), (11, "10:00-12:00"), (16, "10:00-12:00"))
    assert after == want  # clocks go forward on Sunday 14 March


def test_free_busy_times_are_busy_unless_they_say_free(job: MailedJob) -> None:
    times = "FREEBUSY;FBTYPE=BUSY:20270302T150000Z/PT1H\r\nFREEBUSY;FBTYPE=FREE:20270304T150000Z/PT4H"
    times += "\r\nFREEBUSY;FBTYPE=BUSY-TENTATIVE:20270309T150000Z/20270309T190000Z"
    part = f"BEGIN:VFREEBUSY\r\nUID:f\r\nDTSTAMP:20270101T000000Z\r\n{times}\r\nEND:VFREEBUSY"
    assert told(job, part) == [*free((2, "09:00-12:00")), WHOLE[1], WHOLE[3]]


def availability(first: str, last: str, *available: str, priority: int = 0) -> str:
    head = f"BEGIN:VAVAILABILITY\r\nUID:v\r\nDTSTAMP:20270101T000000Z\r\nPRIORITY:{priority}\r\n"
    return f"{head}DTSTART{first}\r\nDTEND{last}\r\n" + "\r\n".join([*available, "END:VAVAILABILITY"])


def test_availability_gives_hours_and_the_higher_priority_counts(job: MailedJob) -> None:
    weekly = entry(f"{DENVER}20270302T090000", f"{DENVER}20270302T110000", "RRULE:FREQ=WEEKLY", kind="AVAILABLE")
    usual = availability(":20270301T000000Z", ":20270401T000000Z", weekly)
    assert told(job, usual) == free((2, "09:00-11:00"), (9, "09:00-11:00"))
    away = availability(":20270308T000000Z", ":20270312T000000Z", priority=1)  # RFC 7953 section 3.2: 1 is the highest
    assert told(job, usual, away) == told(job, away, usual) == free((2, "09:00-11:00"))
    busy = entry(f"{DENVER}20270302T090000", f"{DENVER}20270302T100000")
    assert told(job, usual, busy)[:1] == free((2, "10:00-11:00"))


def test_what_the_plan_wants_and_they_have_no_time_for_is_offered_with_another_time(job: MailedJob) -> None:
    situation = job.situation(job.begin + timedelta(days=1, hours=7))
    call = min((c for c in calls_of(situation) if c.of == LOOK and c.now), key=lambda c: c.now or datetime.max)
    assert call.now is not None
    day = call.now.astimezone(UTC)
    busy = entry(f":{day:%Y%m%d}T000000Z", f":{day + timedelta(days=1):%Y%m%d}T000000Z")
    clashes = found(job, busy, days=60).clashes
    assert [c.call.id for c in clashes] == [call.id]
    assert clashes[0].free_from is not None
    assert clashes[0].free_from.date() > call.now.date()
    assert found(job, days=60).clashes == ()


@pytest.mark.parametrize(
    "content",
    [
        "", "nothing", "BEGIN:VCALENDAR", "\x00", calendar("BEGIN:VEVENT", "END:VEVENT"),
        calendar(entry(":20270302T160000Z", ":20270302T170000Z", "RRULE:FREQ=SECONDLY")),
        calendar(entry(":20270302T160000Z", ":20270302T170000Z", "RRULE:FREQ=NEVER")),
        calendar(entry(":20270302T160000Z", ":xx")), "x" * 5_000_001,
    ],
)  # fmt: skip
def test_what_is_no_calendar_is_told(job: MailedJob, content: str) -> None:
    with pytest.raises(BadInput, match="cannot be read"):
        free_hours(job.situation(), LOOK, content)


def test_a_party_that_nobody_calls_is_told(job: MailedJob) -> None:
    with pytest.raises(BadInput, match="nobody who is called"):
        free_hours(job.situation(), "digging", calendar())


@pytest.fixture
def shelf(certificate: Path, tmp_path: Path) -> Iterator[str]:
    """Serve a folder over TLS on this machine; return its address."""
    (tmp_path / "web").mkdir()

    class Quiet(http.server.SimpleHTTPRequestHandler):
        def __init__(self, *said: object) -> None:
            super().__init__(*said, directory=str(tmp_path / "web"))  # type: ignore[arg-type]

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Quiet)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate / "cert.pem", certificate / "key.pem")
    server.socket = context.wrap_socket(server.socket, server_side=True)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"https://127.0.0.1:{server.server_address[1]}"
    server.shutdown()
    server.server_close()


def test_a_calendar_is_read_from_a_file_or_an_address_with_tls(job, shelf, certificate, monkeypatch, capsys) -> None:
    file = job.path.parent / "web" / "inspector.ics"
    file.write_text(calendar(entry(";VALUE=DATE:20270302", ";VALUE=DATE:20270327")))
    words = ["free-hours", str(job.path), LOOK, "--at", "2027-03-01 07:00"]
    assert main([*words, str(file)]) == 1
    out = capsys.readouterr().out
    assert "Not free" in out
    assert f"jointtrench replan {job.path} --what-if 'delayed {LOOK} --not-before " in out
    offered = shlex.split(next(line for line in out.splitlines() if line.startswith("jointtrench replan")))
    (supposing,) = supposed(job.case, [offered[-1]], job.begin)
    assert (supposing.name, supposing.who) == ("delayed", LOOK)  # type: ignore[union-attr]
    assert "- {date: 2027-03-30, hours: 08:00-12:00}" in out
    assert main([*words, f"{shelf}/inspector.ics"]) == 2
    assert "cannot be had" in capsys.readouterr().err  # nobody trusts its certificate yet
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate / "cert.pem"))
    assert main([*words, f"{shelf}/inspector.ics"]) == 1
    assert capsys.readouterr().out == out
    for wrong in (f"{shelf}/nothing.ics", shelf.replace("https", "http"), "file:///etc/passwd", "nowhere.ics"):
        assert main([*words, wrong]) == 2
