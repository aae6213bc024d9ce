"""A job is found by its id: whatever its file is called and wherever it lies, the record is found or refused."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from scheduler.errors import BadInput
from scheduler.ledger.entry_body import canonical, chained
from scheduler.ledger.folders import job_folder
from scheduler.ledger.heads import head_of
from scheduler.ledger.job_library import keep_site, library, shelved
from scheduler.ledger.journal_tables import OLDER, sqlite_guards
from scheduler.ledger.place import JournalPlace, place_of
from scheduler.ledger.store import FIRST, Entry
from scheduler.ledger.take_over import look_at, sources, take_over
from scheduler.ledger.verify import verify
from scheduler.site.draft import Draft
from scheduler.site.files import load_site, read_site
from scheduler.site.job_id import content_digest, is_job_id, new_job_id
from tests.journals import POSTGRES, START, started
from tests.small_site import SMALL_SITE

ONE, TWO = "JT-7F3K-9QXD-M2TA-40BN", "JT-0000-0000-0000-0001"
REAL = SMALL_SITE.replace("practice-garden-row", ONE).replace("  invented: true\n", "")


@pytest.fixture(autouse=True)
def _no_journal_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("JOINTTRENCH_JOURNAL", raising=False)


def site_file(folder: Path, text: str = REAL, name: str = "job.yaml") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def place(file: Path, said: str = "") -> JournalPlace:
    return place_of(load_site(file), file, said)


def write(file: Path, n: int = 1, said: str = "") -> Entry:
    with closing(place(file, said).open()) as journal:
        return journal.append(started(n), by="test")


def count(file: Path, said: str = "") -> int:
    with closing(place(file, said).open()) as journal:
        return len(journal.entries())


def refused(file: Path, said: str = "") -> str:
    with pytest.raises(BadInput) as bad:
        place(file, said).open()
    return bad.value.findings[0].rule


class TestFound:
    """The same job."""

    def test_ids_are_unlike_any_other_and_have_a_form(self) -> None:
        ids = {new_job_id() for _ in range(2000)}
        assert len(ids) == 2000
        assert all(is_job_id(i) for i in ids)
        with pytest.raises(BadInput, match="expected a job id"):
            read_site(REAL.replace(ONE, "my-job"), file="x.yaml")

    def test_a_renamed_moved_or_copied_file_finds_its_record(self, tmp_path: Path) -> None:
        file = site_file(tmp_path / "a")
        write(file)
        file.rename(tmp_path / "other name.yaml")
        assert count(tmp_path / "other name.yaml") == 1
        copy = site_file(tmp_path / "b", name="third.yaml")
        assert count(copy) == 1

    def test_two_jobs_of_one_file_name_in_one_folder_or_database_are_kept_apart(self, tmp_path: Path) -> None:
        one = site_file(tmp_path / "a")
        two = site_file(tmp_path / "b", REAL.replace(ONE, TWO))
        shared = tmp_path / "journals"
        shared.mkdir()
        write(one, said=str(shared))
        assert count(two, str(shared)) == 0
        assert len(list(shared.glob("*.db"))) == 2

    @pytest.mark.skipif(not POSTGRES, reason="no PostgreSQL named")
    def test_and_in_a_database(self, tmp_path: Path) -> None:
        ids = new_job_id(), new_job_id()
        one, two = (site_file(tmp_path / i, REAL.replace(ONE, i)) for i in ids)
        write(one, said=POSTGRES)
        assert (count(one, POSTGRES), count(two, POSTGRES)) == (1, 0)

    def test_a_new_name_is_followed_until_something_is_written(self, tmp_path: Path) -> None:
        file = site_file(tmp_path)
        place(file).open().close()
        file.write_text(REAL.replace("Garden row", "Garden street"), encoding="utf-8")
        write(file)
        assert count(file) == 1


class TestRefused:
    """Another job, or another place: never chosen in silence."""

    @pytest.mark.parametrize(
        "change", [("Garden row", "Orchard row"), ("first_day: 2026-06-08", "first_day: 2026-06-09")]
    )
    def test_a_file_copied_for_another_job_is_refused_until_it_is_said_what_it_is(
        self, tmp_path: Path, change: tuple[str, str]
    ) -> None:
        write(site_file(tmp_path / "a"))
        copied = site_file(tmp_path / "b", REAL.replace(*change))
        assert refused(copied) == "journal/another"
        place(copied).rename()
        assert count(copied) == 1
        assert refused(tmp_path / "a" / "job.yaml") == "journal/another"

    def test_the_journal_of_another_job_is_refused(self, tmp_path: Path) -> None:
        one, two = site_file(tmp_path / "a"), site_file(tmp_path / "b", REAL.replace(ONE, TWO))
        write(one)
        where = Path(place(two).where)
        where.parent.mkdir(parents=True)
        shutil.copy(place(one).where, where)
        assert refused(two) == "journal/another"

    def test_a_second_place_is_refused_until_the_user_says_that_it_was_moved(self, tmp_path: Path) -> None:
        file = site_file(tmp_path / "a")
        write(file)
        (tmp_path / "else").mkdir()
        assert refused(file, str(tmp_path / "else")) == "journal/elsewhere"
        assert count(file) == 1
        assert list((tmp_path / "else").iterdir()) == []

    @pytest.mark.parametrize("named", ["gone", "gone/deep/er", "gone/x.db"])
    def test_a_place_that_is_not_there_is_refused_and_never_made(self, tmp_path: Path, named: str) -> None:
        file = site_file(tmp_path / "a")
        with pytest.raises(BadInput):
            place(file, str(tmp_path / named)).open()
        assert not (tmp_path / "gone").exists()

    def test_a_folder_that_cannot_be_made_is_refused_and_nothing_is_written_elsewhere(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setenv("JOINTTRENCH_HOME", str(tmp_path / "home"))
        (tmp_path / "home").write_text("in the way", encoding="utf-8")
        file = site_file(tmp_path / "a")
        assert refused(file) in ("journal/reach", "journal/noted")
        assert sorted(p.name for p in (tmp_path / "a").iterdir()) == ["job.yaml"]

    def test_a_journal_that_is_gone_emptied_or_older_is_refused(self, tmp_path: Path) -> None:
        file = site_file(tmp_path / "a")
        write(file, 1)
        journal = Path(place(file).where)
        older = journal.read_bytes()
        write(file, 2)
        journal.write_bytes(older)
        with pytest.raises(BadInput, match="no longer holds entry 2"), closing(place(file).open()) as opened:
            opened.entries()
        with pytest.raises(BadInput, match="no longer holds entry 2"):
            write(file, 3)
        journal.write_bytes(b"")
        assert refused(file) == "journal/missing"
        journal.unlink()
        assert place(file).made
        assert refused(file) == "journal/missing"
        assert not journal.exists()

    def test_a_site_without_an_id_is_read_but_nothing_is_written(self, tmp_path: Path) -> None:
        file = site_file(tmp_path, REAL.replace(f"  job_id: {ONE}\n", ""))
        assert not place(file).made
        assert refused(file) == "journal/no-id"

    def test_the_id_of_an_invented_job_is_no_real_jobs(self) -> None:
        with pytest.raises(BadInput, match="belongs to an invented job"):
            read_site(SMALL_SITE.replace("  invented: true\n", ""), file="x.yaml")


def older_journal(path: Path, count: int, *, chain: str = "") -> None:
    """Make a journal as the version before made it: three tables, and no word of whose it is."""
    raw = sqlite3.connect(path)
    raw.executescript(
        'CREATE TABLE journal_entries (site TEXT NOT NULL, number INTEGER NOT NULL, "at" TEXT NOT NULL, '
        '"by" TEXT NOT NULL, body TEXT NOT NULL, previous TEXT NOT NULL, hash TEXT NOT NULL, '
        "PRIMARY KEY (site, number)) STRICT;"
        "CREATE TABLE journal_seals (site TEXT NOT NULL, number INTEGER NOT NULL, hash TEXT NOT NULL, "
        "PRIMARY KEY (site, number)) STRICT;"
        "CREATE TABLE journal_attachments (hash TEXT NOT NULL, media TEXT NOT NULL, content BLOB NOT NULL, "
        "PRIMARY KEY (hash)) STRICT;"
    )
    for table in OLDER:
        for statement in sqlite_guards(table).values():
            raw.execute(statement)
    previous = FIRST
    for n in range(1, count + 1):
        said = {"site": chain, "number": n, "at": START.isoformat(), "by": "test", "previous": previous}
        said["body"] = canonical(started(n).model_dump(mode="json"))
        previous = chained(said)
        names = ("site", "number", "at", "by", "body", "previous")
        raw.execute("INSERT INTO journal_entries VALUES (?,?,?,?,?,?,?)", [*(said[k] for k in names), previous])
        raw.execute("INSERT INTO journal_seals VALUES (?,?,?)", (chain, n, previous))
    raw.commit()
    raw.close()


class TestUpgrade:
    """A journal of the version before."""

    @pytest.mark.parametrize("beside", [True, False])
    def test_it_is_never_passed_over_and_is_taken_over_hash_by_hash(self, tmp_path: Path, beside: bool) -> None:
        file = site_file(tmp_path / "a")
        folder = file.parent if beside else job_folder(ONE).parent.parent
        folder.mkdir(parents=True, exist_ok=True)
        older_journal(folder / "job.journal.db", 3)
        assert place(file).made
        assert refused(file) == "journal/old"
        (source,) = sources(place(file))
        looked = look_at(place(file), source)
        assert len(looked.entries) == 3
        assert refused(file) == "journal/old", "looking changes nothing"
        kept = take_over(place(file), looked, place(file).job)  # type: ignore[arg-type]
        assert kept is not None
        assert kept.is_file()
        assert write(file, 4).previous == looked.entries[-1].hash
        with closing(place(file).open()) as journal:
            assert journal.entries()[:3] == looked.entries
            assert verify(journal, heads=[head_of(looked.entries)]) == []  # type: ignore[list-item]

    def test_one_named_as_a_file_is_taken_over_in_its_place(self, tmp_path: Path) -> None:
        file, named = site_file(tmp_path / "a"), tmp_path / "firm.db"
        older_journal(named, 2)
        assert refused(file, str(named)) == "journal/old"
        at = place(file, str(named))
        (source,) = sources(at)
        take_over(at, look_at(at, source), at.job)  # type: ignore[arg-type]
        assert count(file, str(named)) == 2
        assert (tmp_path / "firm.db.taken-over").is_file()

    def test_a_damaged_one_is_not_taken_over(self, tmp_path: Path) -> None:
        file = site_file(tmp_path)
        older_journal(tmp_path / "job.journal.db", 3)
        raw = sqlite3.connect(tmp_path / "job.journal.db")
        raw.execute("DROP TRIGGER journal_entries_no_update")
        raw.execute("UPDATE journal_entries SET \"by\" = 'me' WHERE number = 2")
        raw.commit()
        raw.close()
        at = place(file)
        looked = look_at(at, sources(at)[0])
        with pytest.raises(BadInput, match="not what was written"):
            take_over(at, looked, at.job)  # type: ignore[arg-type]
        assert refused(file) == "journal/old"

    def test_two_records_are_never_mixed(self, tmp_path: Path) -> None:
        file = site_file(tmp_path)
        write(file)
        older_journal(tmp_path / "job.journal.db", 1)
        at = place(file)
        with pytest.raises(BadInput, match="two records are never mixed"):
            take_over(at, look_at(at, sources(at)[0]), at.job)  # type: ignore[arg-type]


class TestLibrary:
    """Uploaded and edited sites are kept under their job's id."""

    def test_a_site_is_there_again_and_an_edit_keeps_the_record(self, tmp_path: Path) -> None:
        kept = keep_site(REAL, "mine.yaml")
        write(kept.path)
        edited = keep_site(REAL.replace("overhead_per_day: 400", "overhead_per_day: 500"), "mine.yaml")
        assert edited == kept
        assert library() == {ONE: kept}
        assert count(kept.path) == 1
        assert [p.read_text("utf-8") for p in (job_folder(ONE) / "earlier").iterdir()] == [REAL]

    def test_a_site_without_an_id_gets_one_and_the_same_upload_the_same_one(self) -> None:
        bare = REAL.replace(f"  job_id: {ONE}\n", "")
        first = keep_site(bare, "mine.yaml")
        assert load_site(first.path).site.job_id == first.job
        assert keep_site(bare, "again.yaml").job == first.job
        assert keep_site(bare.replace("boss", "chef"), "mine.yaml").job != first.job

    def test_another_job_with_the_same_id_is_refused_and_may_get_its_own(self) -> None:
        keep_site(REAL, "mine.yaml")
        other = REAL.replace("Garden row", "Orchard row")
        with pytest.raises(BadInput, match="belongs to 'Garden row'"):
            keep_site(other, "mine.yaml")
        own = keep_site(other, "mine.yaml", own_id=True)
        assert own.job != ONE
        found = shelved(ONE)
        assert found is not None
        assert found.name == "Garden row"
        assert keep_site(other, "mine.yaml", same_job=True).job == ONE

    def test_what_is_no_site_is_not_kept(self) -> None:
        for text in ("site: x", "- a", "{", "site: {job_id: ../../x, name: a}"):
            with pytest.raises(BadInput):
                keep_site(text, "x.yaml")
        assert library() == {}

    def test_a_spoiled_entry_of_the_library_is_left_out(self) -> None:
        keep_site(REAL, "mine.yaml")
        (job_folder(ONE) / "site.json").write_text(json.dumps({"name": 1}), encoding="utf-8")
        assert library() == {}


@pytest.mark.parametrize(
    "text",
    [
        "format: 1\nsite:\n  name: A\n  first_day: 2027-03-01\nreaches: []\n",
        "format: 1\r\nsite:\r\n  name: A  # who\r\nreaches: []",
        "format: 1\nsite: {name: A, first_day: 2027-03-01}  # short\nreaches: []\n",
    ],
    ids=["lines", "with CR", "in braces"],
)
def test_the_content_of_a_site_file_is_the_same_with_any_job_id(text):
    draft = Draft.of_text(text, name="site.yaml")
    first, second = (draft.put(("site", "job_id"), given).text() for given in (ONE, TWO))
    assert len({text, first, second}) == 3
    assert len({content_digest(t.encode()) for t in (text, first, second)}) == 1
    assert content_digest(first.replace(": A", ": B").encode()) != content_digest(text.encode())
