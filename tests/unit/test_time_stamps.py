"""Time stamps on a journal: what a token proves, and what is told where it proves nothing."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from scheduler import bundled_sites
from scheduler.cli.main import main
from scheduler.ledger import time_stamps
from scheduler.ledger.place import place_of
from scheduler.ledger.signing import own_signer, statement
from scheduler.ledger.store import Journal
from scheduler.ledger.time_stamps import check_stamps, stamp_journal
from scheduler.ledger.verify import verify
from scheduler.site.files import load_site
from tests.journals import POSTGRES, filled, guarded_again, new_journal, rewritten, unguarded
from tests.time_stamp_authority import Authority, serving

KINDS = ["sqlite", pytest.param("postgresql", marks=pytest.mark.skipif(not POSTGRES, reason="no PostgreSQL named"))]
SAID = ["--despite", "Seen so on site.", "--now", "2027-03-10 12:00", "--by", "R. Amsel"]


@pytest.fixture
def authority(tmp_path: Path) -> Iterator[Authority]:
    if not shutil.which("openssl"):
        say = pytest.fail if os.environ.get("CI") else pytest.skip
        say("no openssl on this machine to answer as a time-stamp authority")
    with serving(Authority(tmp_path / "authority")) as there:
        yield there


@pytest.mark.parametrize("kind", KINDS)
def test_a_token_names_the_entry_and_the_moment_also_after_later_entries(
    kind: str, authority: Authority, tmp_path: Path
) -> None:
    with closing(filled(new_journal(kind, tmp_path), 3)) as journal:
        made = stamp_journal(journal, authority.url, tmp_path, name="job")
        assert made.path == tmp_path / f"job-entry-3-{made.head.code}.tsr"
        assert len(journal.entries()) == 3
        filled(journal, 2)
        (sound,), found = check_stamps([made.path], authority.root, journal.site, journal.entries())
    assert found == []
    assert sound == made
    assert made.head.number == 3
    assert abs(made.moment - datetime.now(UTC)) < timedelta(minutes=5)


def test_another_program_agrees(authority: Authority, tmp_path: Path) -> None:
    with closing(filled(new_journal("sqlite", tmp_path), 3)) as journal:
        made = stamp_journal(journal, authority.url, tmp_path / "t.tsr", name="job")
        words = statement(journal.site, 3, journal.entries()[-1].hash)
    for data, code in ((words, 0), (words + b".", 1)):
        (tmp_path / "words").write_bytes(data)
        command = ["openssl", "ts", "-verify", "-data", tmp_path / "words", "-in", made.path, "-CAfile", authority.root]
        assert subprocess.run(command, capture_output=True, timeout=60).returncode == code


def test_what_no_key_finds_a_token_does(authority: Authority, tmp_path: Path) -> None:
    with closing(new_journal("sqlite", tmp_path)) as journal:
        journal.signer = own_signer()
        made = stamp_journal(filled(journal, 4), authority.url, tmp_path, name="job")
        entries = journal.entries()
    raw = unguarded(Path(journal.where))
    rewritten(raw, journal.site, 2, own_signer())
    guarded_again(raw)
    raw.close()
    with closing(Journal.open(journal.where, site=journal.site)) as journal:
        assert verify(journal, keys=[own_signer().public]) == []
        histories = {"rewritten": journal.entries(), "cut": entries[:3], "emptied": ()}
    for name, history in histories.items():
        sound, found = check_stamps([made.path], authority.root, journal.site, history)
        assert (sound, [f.rule for f in found]) == ([], ["stamp/entry"]), name
    sound, found = check_stamps([made.path], authority.root, "another-job", entries)
    assert (sound, [f.rule for f in found]) == ([], ["stamp/entry"])


def test_a_damaged_journal_is_not_stamped(authority: Authority, tmp_path: Path) -> None:
    with closing(filled(new_journal("sqlite", tmp_path), 3)) as journal:
        where, chain = journal.where, journal.site
    raw = unguarded(Path(where))
    raw.execute("UPDATE journal_entries SET body = 'x' WHERE number = 2")
    guarded_again(raw)
    raw.close()
    with closing(Journal.open(where, site=chain)) as journal, pytest.raises(time_stamps.BadInput, match="Entry 2"):
        stamp_journal(journal, authority.url, tmp_path / "t.tsr", name="job")
    assert not (tmp_path / "t.tsr").exists()


class Desk:
    """The command line at a site with two entries and a token over the second; `told` is what it said last."""

    def __init__(self, site: Path, authority: Authority, capsys: pytest.CaptureFixture[str]) -> None:
        self.site, self.authority, self.capsys, self.told = site, authority, capsys, ""
        self.token = site.with_name("kept.tsr")
        for kind, hour in (("started", 8), ("finished", 9)):
            code = self.run("report", kind, "orchard-row/dig", "--when", f"2027-03-09 {hour:02}:00", *SAID)
            assert code == 0, self.told
        assert self.ask(out="kept.tsr") == 0

    def run(self, command: str, *words: object) -> int:
        code = main([command, str(self.site), *(str(word) for word in words)])
        self.told = "".join(self.capsys.readouterr())
        return code

    def ask(self, url: str = "", out: str = "other.tsr") -> int:
        to = self.site.parent / out
        return self.run("journal", "timestamp", "--authority", url or self.authority.url, "--out", to)

    def verify(self, token: Path | None = None, certificate: Path | None = None) -> int:
        named = ["--stamp", token or self.token, "--authority-cert", certificate or self.authority.root]
        return self.run("journal", "verify", *named)


@pytest.fixture
def desk(tmp_path: Path, authority: Authority, capsys: pytest.CaptureFixture[str]) -> Desk:
    return Desk(Path(shutil.copy(bundled_sites()["orchard-lane"], tmp_path)), authority, capsys)


def test_a_good_token_is_told_with_its_moment(desk: Desk) -> None:
    assert desk.verify() == 0
    assert "kept.tsr: the entries up to 2:" in desk.told
    assert f" {datetime.now(UTC).year}" in desk.told.split("stood in this journal on ")[1]
    assert "No head or key was given" not in desk.told


def test_a_token_holds_for_a_restored_journal(desk: Desk) -> None:
    assert desk.run("journal", "backup", desk.site.with_name("copy.db")) == 0
    where = Path(place_of(load_site(desk.site), desk.site).where)
    for file in where.parent.glob(f"{where.name}*"):
        file.unlink()
    assert desk.verify() == 1
    assert "stood in this journal" not in desk.told
    assert desk.run("journal", "restore", desk.site.with_name("copy.db"), "--yes") == 0
    assert desk.verify() == 0


def test_a_token_that_proves_nothing_is_told_in_words(desk: Desk, tmp_path: Path) -> None:
    with serving(Authority(tmp_path / "another")) as another:
        assert desk.verify(certificate=another.root) == 1
        assert "is not signed by an authority that root.pem vouches for" in desk.told
        assert "stood in this journal" not in desk.told
    assert desk.verify(certificate=desk.authority.folder / "signer.pem") == 1
    other = tmp_path / "elsewhere"
    other.mkdir()
    with closing(filled(new_journal("sqlite", other), 2)) as journal:
        stamp_journal(journal, desk.authority.url, other / "t.tsr", name="job")
    assert desk.verify(other / "t.tsr") == 1
    assert "stamps no entry of this journal" in desk.told


def test_files_that_are_no_proof_are_refused(desk: Desk, tmp_path: Path) -> None:
    garbage = tmp_path / "garbage"
    for content in (b"", b"garbage", desk.token.read_bytes()[:-9]):
        garbage.write_bytes(content)
        assert desk.verify(garbage) == 2
        assert "garbage: is no time-stamp token" in desk.told
    assert desk.verify(certificate=garbage) == 2
    assert "holds no certificate in PEM form" in desk.told
    assert desk.verify(tmp_path / "missing") == 2
    assert "cannot be read" in desk.told
    assert desk.run("journal", "verify", "--stamp", desk.token) == 2
    assert "--authority-cert are named together" in desk.told


def test_a_damaged_journal_is_no_ground_for_a_token(desk: Desk) -> None:
    raw = unguarded(Path(place_of(load_site(desk.site), desk.site).where))
    raw.execute("UPDATE journal_entries SET body = 'x' WHERE number = 1")
    guarded_again(raw)
    raw.close()
    assert desk.verify() == 1
    assert "The time stamps were not looked at" in desk.told
    assert "stood in this journal" not in desk.told
    assert desk.ask() == 2


@pytest.mark.parametrize(
    "url",
    ["http://example.com/tsr", "ftp://localhost/tsr", "http://localhost.example.com/", "file:///etc/passwd", "x", ""],
)
def test_only_https_or_this_machine_is_asked(url: str, desk: Desk) -> None:
    assert desk.run("journal", "timestamp", "--authority", url) == 2
    assert "begins with https://" in desk.told


def test_an_authority_that_gives_no_token_is_told_and_no_file_is_left(desk: Desk) -> None:
    authority, old = desk.authority, desk.token.read_bytes()
    good = authority.answer
    authority.digests = "sha512"
    assert desk.ask() == 2
    assert "gives no time stamp: Message digest algorithm is not supported" in desk.told
    authority.digests = "sha256"
    for answer, words in (
        (b"<html>Log in first</html>", "sent no time-stamp token that can be read"),
        (old, "is not the answer to what was asked"),
        (bytes(1_000_001), "sent more than 1000000 bytes"),
    ):
        authority.answer = lambda _, answer=answer: answer  # type: ignore[method-assign]
        assert desk.ask() == 2
        assert words in desk.told
    authority.answer = good  # type: ignore[method-assign]
    for status in (302, 500):
        authority.status = status
        assert desk.ask() == 2
        assert f"answered '{status} " in desk.told
    assert not desk.site.with_name("other.tsr").exists()


def test_an_authority_that_is_away_or_silent_is_told(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(time_stamps, "ANSWER_SECONDS", 0.3)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        port = silent.getsockname()[1]
        assert desk.ask(f"http://127.0.0.1:{port}/") == 2
        assert "cannot be reached (timed out)" in desk.told
    assert desk.ask(f"http://127.0.0.1:{port}/") == 2
    assert "Connection refused" in desk.told
    assert not desk.site.with_name("other.tsr").exists()


def test_a_token_never_replaces_a_file(desk: Desk) -> None:
    before = desk.token.read_bytes()
    assert desk.ask(out="kept.tsr") == 2
    assert "is there already" in desk.told
    assert desk.token.read_bytes() == before
    assert desk.ask(out="nowhere/t.tsr") == 2
    assert "is in no folder that is there" in desk.told


def test_without_the_package_it_is_told_what_to_install(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "rfc3161_client", None)
    for code in (desk.ask(), desk.verify()):
        assert code == 2
        assert "pip install -e '.[stamp]'" in desk.told


def test_a_site_without_a_record_has_nothing_to_stamp(
    tmp_path: Path, authority: Authority, capsys: pytest.CaptureFixture[str]
) -> None:
    site = shutil.copy(bundled_sites()["orchard-lane"], tmp_path)
    assert main(["journal", site, "timestamp", "--authority", authority.url]) == 2
    assert "no journal of this job is there yet" in capsys.readouterr().err
