"""Several jobs on one server: who sees which, and who begins, copies and archives one; every role on every job."""

from __future__ import annotations

import re
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import create_engine

import scheduler
from app.served import own_jobs as jobs
from app.served import visitors
from app.served.one_browser import admit_beside, sessions_of
from app.served.sign_ins import SignedIn, SignIns
from app.served.visitors import Served, guarded, set_up, visitor
from scheduler import BadInput, bundled_sites
from scheduler.ledger import place_of
from scheduler.ledger.day_events import NoteKept
from scheduler.site.editor import Start
from tests.unit.test_served_pages import ROLES

GC = "general_contractor"
BUNDLED = bundled_sites()["orchard-lane"]
START = Start(name="Mill Road 14", first_day=date(2027, 5, 3))


class Firm:
    """Three jobs on one server in this process, and whoever the test puts before a page, with one browser."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder = folder / "sites"
        self.folder.mkdir()
        sites = {name: self.put(name) for name in ("lane", "row", "yard")}
        self.ins = SignIns(create_engine(f"sqlite:///{folder / 'in.db'}"), "s" * 64)
        self.served = Served(sites, self.ins)
        self.browser: list[str] = []
        monkeypatch.setattr(visitors, "_SERVED", [])
        set_up(self.served)
        monkeypatch.setattr(visitors, "asked_by", lambda: self.browser[0] if self.browser else "")
        monkeypatch.setattr(visitors, "asked_beside", lambda: tuple(self.browser))
        (folder / "journals").mkdir()
        monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(folder / "journals"))

    def put(self, name: str, *changes: tuple[str, str]) -> Path:
        text = re.sub(r"job_id: \S+", f"job_id: practice-{name}", BUNDLED.read_text(encoding="utf-8"))
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        (self.folder / f"{name}.yaml").write_text(text, encoding="utf-8")
        return self.folder / f"{name}.yaml"

    def come(self, *on: tuple[str, str], people: dict[str, str] | None = None) -> None:
        """Open links in a new browser: of a site, in a role; the first one is open."""
        self.browser = []
        for site, role in on:
            person = (people or {}).get(site, ROLES[role])
            known = self.ins.signed_in(self.ins.admit(site, person, role))
            assert known is not None
            self.browser.append(known.id)

    def sees(self) -> list[str]:
        return [job.site for job in jobs.own_jobs()]

    def note(self, site: str) -> object:
        case = scheduler.load(self.served.sites[site])
        with closing(guarded(place_of(case.site, case.path), case).open()) as journal:
            return journal.append(NoteKept(words="Hello", when=case.network.clock.when(0)), by="x")


@pytest.fixture
def firm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Firm:
    return Firm(tmp_path, monkeypatch)


def acts(site: str) -> dict[str, object]:
    return {
        "begin": lambda: jobs.begin(site, "house-service", START),
        "copy": lambda: jobs.copy(site, "Another", None, with_people=True),
        "archive": lambda: jobs.archive(site),
        "take back": lambda: jobs.take_back(site),
    }


@pytest.mark.parametrize("role", ROLES)
def test_every_role_against_every_act_on_every_job(firm: Firm, role: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody of the role on two jobs, who is the contractor on neither, one or both, asks for all three."""
    allowed, wrong, kept = 0, [], []
    monkeypatch.setattr(jobs, "_keep", lambda maker, *_: kept.append(maker.known.site))  # written in other tests
    for second in dict.fromkeys((role, GC)):
        firm.come(("lane", role), ("row", second))
        for site in ("lane", "row", "yard"):
            for name, act in acts(site).items():  # in this order an archived job is taken back
                before, may = len(kept), {"lane": role, "row": second}.get(site) == GC
                try:
                    act()  # type: ignore[operator]
                    did = True
                except BadInput:
                    did = False
                allowed += did
                if did != may or len(kept) - before != (may and name in ("begin", "copy")):
                    wrong.append((role, second, site, name))
    assert wrong == []
    assert allowed == (8 if role == GC else 4)


def test_nobody_does_nothing(firm: Firm) -> None:
    for name, act in acts("lane").items():
        with pytest.raises(BadInput, match="Nobody"):
            act()  # type: ignore[operator]
        assert firm.sees() == [], name


@pytest.mark.parametrize("role", ROLES)
def test_everybody_sees_the_jobs_they_are_on_and_no_others(firm: Firm, role: str) -> None:
    firm.come(("lane", role))
    assert firm.sees() == ["lane"]
    firm.come(("row", role), ("lane", role))
    assert firm.sees() == ["row", "lane"]
    firm.ins.revoke("lane", ROLES[role])
    assert firm.sees() == ["row"]
    firm.ins.revoke("row", ROLES[role])
    assert firm.sees() == []


def test_who_is_taken_out_of_a_site_file_sees_that_job_no_more(firm: Firm) -> None:
    firm.come(("lane", "customer"), ("row", "customer"))
    firm.put("row", ("{id: h-vane,", "{id: somebody-else,"))
    assert firm.sees() == ["lane"]


def test_a_role_holds_for_its_own_site_only(firm: Firm) -> None:
    firm.come(("lane", "trade"), ("row", GC))
    assert [(j.site, j.person.role, j.runs_it) for j in jobs.own_jobs()] == [
        ("lane", "trade", False),
        ("row", GC, True),
    ]
    with pytest.raises(BadInput, match="another site"):
        firm.note("row")  # the page is open as the trade of the other job
    assert firm.note("lane").by == "x"  # type: ignore[attr-defined]


def test_an_archived_job_leaves_every_list_and_takes_no_entry(firm: Firm) -> None:
    firm.come(("lane", "inspector"))
    inspector = firm.browser
    firm.come(("lane", GC))
    before = (firm.served.sites["lane"].read_bytes(), firm.note("lane"))
    jobs.archive("lane")
    assert firm.sees() == ["lane"], "who may take it back is told of it"
    assert visitor() is None
    with pytest.raises(BadInput, match="archived"):
        firm.note("lane")
    firm.browser, contractor = inspector, firm.browser
    assert firm.sees() == []
    assert visitor() is None
    with pytest.raises(BadInput, match="archived"):
        firm.note("lane")
    firm.browser = contractor
    jobs.take_back("lane")
    assert firm.served.sites["lane"].read_bytes() == before[0]
    assert firm.note("lane").number == 2  # type: ignore[attr-defined]


PERMITS = """own_work:
  - {id: ask, name: Permit in hand, before: dig, hours: 1, once: true, in_trench: false, gate: true}
permits:
  - {id: granted, kind: permit, by: The county, number: P-1}
  - {id: waits, kind: permit, by: The county, number: P-2, step: ask}
people:
"""


def test_a_copy_is_a_job_of_its_own(firm: Firm) -> None:
    firm.put("lane", ("people:\n", PERMITS))
    firm.come(("lane", GC))
    firm.note("lane")
    old = scheduler.load(firm.served.sites["lane"]).site
    with_people = jobs.copy("lane", "Mill Road 16", date(2028, 3, 6), with_people=True)
    without = jobs.copy("lane", "Mill Road 16", None, with_people=False)
    assert (with_people, without) == ("mill-road-16", "mill-road-16-2")
    new, bare = (scheduler.load(firm.served.sites[s]).site for s in (with_people, without))
    assert len({s.site.job_id for s in (old, new, bare)}) == 3
    assert (new.site.name, new.site.first_day) == ("Mill Road 16", date(2028, 3, 6))
    assert {p.id for p in new.people} == {p.id for p in old.people}
    assert not place_of(new, firm.served.sites[with_people]).made, "nothing of the other record"
    assert old.bookings or any(t.number for t in old.locate_tickets)
    for site in (new, bare):
        assert not site.bookings
        assert not [t for t in site.locate_tickets if t.number or t.clear]
        assert [(p.id, p.number) for p in site.permits] == [("waits", "")], "one that was granted was not granted here"
    released = {s.released_by for s in bare.own_work} | {k.released_by for k in bare.keep_open}
    assert {p.id for p in bare.people} <= released | {"r-amsel"}
    assert firm.sees() == ["lane", with_people, without]
    assert {j.person.id for j in jobs.own_jobs()} == {"r-amsel"}
    firm.browser = [firm.browser[0]]  # another device of hers has not the new ones, nor has anybody else
    firm.come(("lane", "trade"))
    assert firm.sees() == ["lane"]


def test_an_empty_job_has_its_maker_as_the_only_person_and_can_be_planned(firm: Firm) -> None:
    firm.come(("lane", GC))
    made = jobs.begin("lane", "house-service", START)
    case = scheduler.load(firm.served.sites[made])
    assert [(p.id, p.role) for p in case.site.people] == [("r-amsel", GC)]
    assert (case.site.site.name, case.path.parent) == ("Mill Road 14", firm.folder)
    with pytest.raises(BadInput, match="name"):
        jobs.begin("lane", "house-service", Start(name=" ", first_day=date(2027, 5, 3)))


def test_a_new_job_takes_no_name_by_which_anything_was_ever_given(firm: Firm) -> None:
    firm.ins.invite("mill-road-14", "somebody", GC)  # of a file that was taken away since
    firm.come(("lane", GC))
    assert jobs.begin("lane", "house-service", START) == "mill-road-14-2"


def test_what_was_begun_from_a_session_ends_with_it_and_a_second_one_too(firm: Firm) -> None:
    firm.come(("lane", GC))
    first = firm.ins.session(firm.browser[0])
    assert first is not None
    beside = admit_beside(firm.ins, first, "row", "r-amsel", GC)
    second = firm.ins.session(beside)
    assert second is not None
    admit_beside(firm.ins, second, "yard", "r-amsel", GC)
    assert [k.site for k in sessions_of(firm.ins, firm.browser)] == ["lane", "row", "yard"]
    firm.ins.end(first.id)
    assert sessions_of(firm.ins, firm.browser) == []


def test_a_file_that_cannot_be_read_is_told_to_who_was_on_it_only(firm: Firm) -> None:
    firm.come(("lane", "trade"), ("row", "trade"))
    assert firm.sees() == ["lane", "row"]
    firm.served.sites["row"].write_text("site: [", encoding="utf-8")
    *_, row = jobs.own_jobs()
    assert (row.site, row.case, row.runs_it) == ("row", None, False)
    assert row.fault is not None
    before = firm.browser
    firm.come(("lane", GC))
    assert firm.sees() == ["lane"]
    firm.browser = before
    with pytest.raises(BadInput, match="Nobody"):
        jobs.archive("row")


def test_two_sites_name_one_human_only_where_nothing_speaks_against_it(firm: Firm) -> None:
    def same(one: str, other: str, role: str = GC) -> bool:
        return firm.served.same_person(SignedIn("", "lane", one, role), SignedIn("", "row", other, role))

    assert same("r-amsel", "r-amsel")
    assert not same("m-ruiz", "t-bell" if "t-bell" in {p.id for p in scheduler.load(BUNDLED).site.people} else "x")
    assert not same("r-amsel", "nobody")
    person = next(p for p in scheduler.load(BUNDLED).site.people if p.id == "r-amsel")
    firm.put("row", (f"name: {person.name},", "name: Rita Other,"))
    assert not same("r-amsel", "r-amsel"), "another name under one id"
    firm.put("row", (person.phone, "555-0999"))
    assert not same("r-amsel", "r-amsel"), "one name, another telephone"


def test_a_folder_that_may_not_be_written_offers_no_new_job(firm: Firm, monkeypatch: pytest.MonkeyPatch) -> None:
    firm.come(("lane", GC))
    assert jobs.may_write_here()
    monkeypatch.setattr("os.access", lambda *_: False)
    assert not jobs.may_write_here()

    def refuse(*_: object) -> Path:
        raise PermissionError(30, "Read-only file system")

    monkeypatch.setattr(jobs, "write_beside", refuse)
    with pytest.raises(BadInput, match="may not write into its folder"):
        jobs.begin("lane", "house-service", START)
    assert firm.sees() == ["lane"]
