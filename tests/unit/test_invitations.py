"""Asking in writing: each appointment once, again when it changes, called off when it is gone."""

from __future__ import annotations

import re
import socket
import ssl
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email.headerregistry import Address
from importlib import import_module
from ipaddress import ip_address
from pathlib import Path
from urllib.parse import parse_qs, unquote, urlsplit

import pytest
import vobject
from aiosmtpd.controller import Controller
from aiosmtpd.handlers import Message
from aiosmtpd.smtp import AuthResult
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from scheduler.cli import main
from scheduler.errors import BadInput
from scheduler.export.mail.invitation_mail import invitation_mail, organiser
from scheduler.export.mail.invitations import Invitation, to_ask
from scheduler.export.mail.mail_settings import EXAMPLE, MailServer, read_mail_settings
from scheduler.export.mail.short_texts import (
    GSM_7,
    LONGEST_TEXT,
    in_gsm_7,
    mail_draft,
    short_text,
    text_draft,
    text_length,
)
from scheduler.ledger.call_events import AskedInWriting, Called
from scheduler.site.people import Person
from scheduler.situation.call_list import calls_of, how_it_stands
from scheduler.situation.call_words import CallDue
from tests.mails import MailedJob, calendar_part, mailed, read_mail

NOW = "2027-03-01 07:00"


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> MailedJob:
    (tmp_path / "journals").mkdir()
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path / "journals"))
    monkeypatch.chdir(tmp_path)
    return MailedJob(tmp_path)


def ask(job: MailedJob, *words: str, at: str = NOW) -> int:
    return main(["ask", str(job.path), "--now", at, "--by", "Ruth Amsel", *words])


def asked(job: MailedJob) -> list[AskedInWriting]:
    return [e for e in job.said() if isinstance(e, AskedInWriting)]


def test_everybody_with_an_address_is_asked_once_and_it_stands_on_record(job, capsys) -> None:
    assert ask(job, "--show") == 0
    assert asked(job) == []
    assert ask(job) == 0
    files = sorted(Path("invitations").glob("*.eml"))
    said = asked(job)
    assert len(files) == len(said) > 3
    assert {a.to for a in said} == {"tom@bell.example", "carol@sorrel.example", "sam@power.example"}
    assert len({a.uid for a in said}) == len(said)
    assert all(re.fullmatch(r"[0-9a-f]{32}@jointtrench", a.uid) for a in said), "128 bits that nobody guesses"
    assert {(a.sequence, a.sent) for a in said} == {(0, False)}
    for file in files:
        mail = read_mail(file.read_bytes())
        part = calendar_part(mail)
        assert part.get_param("method") == "REQUEST"  # RFC 6047 section 2.4
        event = vobject.readOne(part.get_content()).vevent
        entry = next(a for a in said if a.uid == event.uid.value)
        assert (event.dtstart.value, event.sequence.value) == (entry.told_start, "0")
        assert event.organizer.value == "mailto:ruth@amsel.example"
        assert event.attendee.value == f"mailto:{entry.to}"
        assert (event.attendee.params["RSVP"], event.attendee.params["PARTSTAT"]) == (["TRUE"], ["NEEDS-ACTION"])
    capsys.readouterr()
    assert ask(job, at="2027-03-01 08:00") == 0
    out = capsys.readouterr().out
    assert f"0 appointments asked for.\n{len(said)} appointments asked for before, not answered yet: --again." in out
    assert len(asked(job)) == len(said)
    assert ask(job, "--party=plumber", "--again", at="2027-03-01 09:00") == 0
    again = asked(job)[len(said) :]
    assert {(a.uid, a.sequence) for a in again} == {(a.uid, 0) for a in said if a.of == "plumber"}


def test_the_calls_say_who_was_asked_and_since_when_they_are_silent(job, capsys) -> None:
    ask(job, "--party=tie-in")
    calls = calls_of(job.situation(job.begin + timedelta(days=1, hours=12)))  # Mon 1 Mar 12:00
    (call,) = [c for c in calls if c.of == "tie-in"]
    said = "Asked by mail Mon 1 Mar 07:00, silent since, 5 h of their working time."
    assert how_it_stands(call) == said
    assert main(["calls", str(job.path), "--at", "2027-03-01 12:00"]) in (0, 1)
    assert said in " ".join(capsys.readouterr().out.split())


def plumbers(job: MailedJob, at: datetime, calls: list[CallDue], monkeypatch) -> tuple[Invitation, ...]:
    """Return whom is to be asked with these calls due."""
    module = import_module("scheduler.export.mail.invitations")  # `scheduler.export` itself is a function
    monkeypatch.setattr(module, "calls_of", lambda _: tuple(calls))
    return to_ask(job.situation(at)).invitations


def test_what_moves_is_asked_again_under_its_name_and_what_is_gone_is_called_off(job, monkeypatch) -> None:
    ask(job, "--party=tie-in")
    (first,) = asked(job)
    at = job.begin + timedelta(days=1, hours=9)
    (due,) = [c for c in calls_of(job.situation(at)) if c.of == "tie-in"]
    later = first.told_start + timedelta(days=1)
    (moved,) = plumbers(job, at, [replace(due, now=later)], monkeypatch)
    assert (moved.uid, moved.sequence, moved.start, moved.was) == (first.uid, 1, later, first.told_start)
    mail = invitation_mail(job.situation(at), moved, organiser(job.situation(at)), at)
    assert str(mail["Subject"]).startswith("Now wanted: Tie in at the new pole")
    assert vobject.readOne(calendar_part(mail).get_content()).vevent.sequence.value == "1"
    (gone,) = plumbers(job, at, [], monkeypatch)
    assert (gone.uid, gone.sequence, gone.called_off) == (first.uid, 1, True)
    part = calendar_part(invitation_mail(job.situation(at), gone, organiser(job.situation(at)), at))
    assert part.get_param("method") == "CANCEL"
    event = vobject.readOne(part.get_content()).vevent
    assert (event.uid.value, event.status.value) == (first.uid, "CANCELLED")
    yes = Called(of="tie-in", told_start=first.told_start, activities=first.activities, answer="agreed", when=at)
    with closing(job.journal()) as journal:
        journal.append(yes, at=at, by="Ruth Amsel")
    assert plumbers(job, at, [], monkeypatch) == (), "who agreed on the telephone is not called off"
    with closing(job.journal()) as journal:
        journal.append(gone.as_asked(at), at=at, by="Ruth Amsel")
    assert plumbers(job, at, [], monkeypatch) == (), "called off once"


def test_who_said_no_is_not_asked_again_for_that_time(job, monkeypatch) -> None:
    ask(job, "--party=tie-in")
    (first,) = asked(job)
    at = job.begin + timedelta(days=1, hours=9)
    no = Called(of="tie-in", told_start=first.told_start, activities=first.activities, answer="refused", when=at)
    with closing(job.journal()) as journal:
        journal.append(no, at=at, by="Ruth Amsel")
    assert [i for i in to_ask(job.situation(at)).invitations if i.of == "tie-in"] == []


def test_names_that_would_break_a_header_stand_in_one_line(job) -> None:
    situation = job.situation()
    invitation = to_ask(situation).invitations[0]
    bad = invitation.person.model_copy(update={"name": 'Tom\r\nBcc: evil@x.example "Bell" <a@b>'})
    mail = invitation_mail(
        situation, replace(invitation, person=bad, about="Pipe\r\nX: y"), organiser(situation), job.begin
    )
    head = read_mail(mail.as_bytes())
    assert set(head.keys()) == {"From", "To", "Subject", "Date", "Message-ID", "MIME-Version", "Content-Type"}
    assert [a.addr_spec for a in head["To"].addresses] == [invitation.person.mail]
    for wrong in ("a@b.example\r\nBcc: x@y.example", "a@b.example, c@d.example", "<a@b.example>", "a b@c.example"):
        with pytest.raises(ValueError, match="mail address"):
            Person(id="x", name="X", role="trade", mail=wrong)
        with pytest.raises(Exception):  # noqa: B017, PT011 - whatever the mail library says, it takes none of them
            Address("x", addr_spec=wrong)


def test_nobody_asks_without_an_address_to_answer_to(job) -> None:
    situation = job.situation()
    people = [p.model_copy(update={"mail": ""}) for p in situation.site.people]
    without = replace(situation, site=situation.site.model_copy(update={"people": people}))
    with pytest.raises(BadInput, match="nobody could answer"):
        organiser(without)
    assert organiser(without, "office@amsel.example").mail == "office@amsel.example"
    assert organiser(without, by_mail=False).name == "Ruth Amsel"
    assert to_ask(without).invitations == ()


def test_texts_are_one_message_in_the_telephones_letters(job) -> None:
    situation = job.situation()
    asker = organiser(situation)
    link = "https://trench.example/today?site=orchard-lane"
    for invitation in to_ask(situation, means="text").invitations:
        text = short_text(situation, invitation, asker, link)
        assert text_length(text) <= LONGEST_TEXT
        assert link in text
    long = replace(invitation, about="Ж" * 300 + "ő {~}" * 40, was=invitation.start)
    firm = asker.model_copy(update={"of": "Łódź — €{} " * 20})
    for who in (asker, firm):
        for one in (long, replace(long, called_off=True), replace(invitation, about="ő" * 60)):
            for address in ("", link, link + "x" * 150):
                assert text_length(short_text(situation, one, who, address)) <= LONGEST_TEXT
    assert in_gsm_7("Łódź – ő [x]") == "?ódz - o [x]".replace("ó", "o")
    assert text_length("[x]") == 5
    assert len(GSM_7) == 127  # 3GPP TS 23.038 table 1: 128 places, one of them the escape
    with pytest.raises(ValueError, match="alphabet"):
        text_length("Ж")
    draft = text_draft(invitation, "Yes or no? 5 & 6")
    assert draft == f"sms:{invitation.person.phone.replace('-', '')}?body=Yes%20or%20no%3F%205%20%26%206"
    parts = urlsplit(mail_draft(situation, to_ask(situation).invitations[0], asker))
    assert parts.scheme == "mailto"
    assert "Can you come" in parse_qs(parts.query)["body"][0]
    assert "@" in unquote(parts.path)


class Postbox(Message):
    """Keeps what a mail server took."""

    def __init__(self) -> None:
        super().__init__()
        self.mails: list[bytes] = []

    def handle_message(self, message) -> None:
        self.mails.append(message.as_bytes())


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a certificate of this machine that nobody else trusts, and its key."""
    folder = tmp_path_factory.mktemp("tls")
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "localhost")])
    here = x509.SubjectAlternativeName([x509.DNSName("localhost"), x509.IPAddress(ip_address("127.0.0.1"))])
    now = datetime.now(UTC)
    made = x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key())
    made = made.serial_number(x509.random_serial_number()).not_valid_before(now - timedelta(days=1))
    signed = made.not_valid_after(now + timedelta(days=2)).add_extension(here, False).sign(key, hashes.SHA256())
    (folder / "cert.pem").write_bytes(signed.public_bytes(serialization.Encoding.PEM))
    form = serialization.PrivateFormat.PKCS8
    plain = key.private_bytes(serialization.Encoding.PEM, form, serialization.NoEncryption())
    (folder / "key.pem").write_bytes(plain)
    return folder


@pytest.fixture
def server(certificate: Path) -> Iterator[tuple[Postbox, Controller]]:
    """A mail server on this machine that takes mails over STARTTLS from whoever signs in."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate / "cert.pem", certificate / "key.pem")
    box = Postbox()

    def known(_server, _session, _envelope, _how, data) -> AuthResult:
        good = (data.login, data.password) == (b"office", b"a password")
        return AuthResult(success=good, handled=False)

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    control = Controller(
        box, hostname="127.0.0.1", port=port, tls_context=context, require_starttls=True, authenticator=known,
        auth_required=True,
    )  # fmt: skip
    control.start()
    yield box, control
    control.stop()


def settings(job: MailedJob, certificate: Path, port: int, **change: str) -> Path:
    text = (
        '[mail]\nsender = "office@amsel.example"\n[mail.smtp]\nhost = "127.0.0.1"\n'
        f'port = {port}\ntls = "starttls"\nuser = "office"\ntrust = "{certificate / "cert.pem"}"\n'
    )
    for before, after in change.items():
        text = text.replace(before, after)
    path = job.path.parent / "served.toml"
    path.write_text(text)
    return path


def test_invitations_go_out_by_the_firms_own_server(job, server, certificate, monkeypatch, capsys) -> None:
    box, control = server
    port = control.port
    config = settings(job, certificate, port)
    assert ask(job, "--config", str(config), "--send") == 2
    assert "JOINTTRENCH_MAIL_PASSWORD" in capsys.readouterr().err
    monkeypatch.setenv("JOINTTRENCH_MAIL_PASSWORD", "wrong")
    assert ask(job, "--config", str(config), "--send") == 2
    assert "did not take the mail" in capsys.readouterr().err
    assert (box.mails, asked(job)) == ([], [])
    monkeypatch.setenv("JOINTTRENCH_MAIL_PASSWORD", "a password")
    assert ask(job, "--party=plumber", "--config", str(config), "--send") == 0
    said = asked(job)
    assert {(a.to, a.sent) for a in said} == {("tom@bell.example", True)}
    uids = {vobject.readOne(calendar_part(read_mail(m)).get_content()).vevent.uid.value for m in box.mails}
    assert uids == {a.uid for a in said}
    assert {str(read_mail(m)["From"]) for m in box.mails} == {"Ruth Amsel <office@amsel.example>"}
    untrusted = settings(job, certificate, port, trust="#")
    assert ask(job, "--party=tie-in", "--config", str(untrusted), "--send") == 2
    assert "certificate" in capsys.readouterr().err
    assert len(box.mails) == len(said)


def test_faults_of_the_settings_are_told(tmp_path: Path) -> None:
    path = tmp_path / "served.toml"
    path.write_text('[mail]\nsender = "x"\nodd = 1\n[mail.smtp]\nhost = "mail.example"\nport = 25\ntls = "none"\n')
    with pytest.raises(BadInput) as bad:
        read_mail_settings(path)
    assert {f.where for f in bad.value.findings} == {"mail.sender", "mail.odd", "mail.smtp"}
    assert any("on this machine only" in f.text for f in bad.value.findings)
    assert MailServer(host="127.0.0.1", port=25, tls="none")
    path.write_text(EXAMPLE)
    whole = read_mail_settings(path)
    assert whole.smtp is not None
    assert whole.imap is not None
    assert (whole.smtp.tls, whole.imap.port) == ("from_the_start", 993)
    path.write_text("address = ")
    with pytest.raises(BadInput, match="cannot be read"):
        read_mail_settings(path)


def test_the_plan_of_these_tests_is_audited() -> None:
    assert mailed().broken == ()
