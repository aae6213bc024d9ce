"""Every page for every role on a served dashboard: what is in the navigation, what opens, and what it offers."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import create_engine
from streamlit.testing.v1 import AppTest
from streamlit.util import calc_hash

import app
import scheduler
from app.components.reports import FORMS
from app.jobs import Job
from app.served import visitors
from app.served.sent_links import end, send, stands
from app.served.served_roles import JOBS, LINKS, MAY_DO, MAY_OPEN, MAY_WRITE, MONEY, PLAN, own_names
from app.served.sign_ins import SignIns
from app.served.visitors import Served, set_up
from scheduler import BadInput, Case, bundled_sites
from scheduler.ledger import place_of
from scheduler.ledger.call_events import Called
from scheduler.ledger.events import Started
from tests.unit.test_app_pages import solved

MAIN = Path(app.__file__).with_name("main.py")
HOLD = "hold/conduit-look/pole-hedge/L0"
TITLES = {
    "today": "Orchard Lane workshop, new underground services",
    "record": "Record",
    "delays": "Delays",
    "schedule": "Schedule",
    "critical-path": "Critical path",
    "inspections": "Visits and holds",
    "trench": "Trench",
    "conflicts": "Conflicts",
    "paper": "Paper and calendars",
    "people": "People and phones",
    "jobs": "Jobs",
}
OFFERED = {"started", "not_done", "called", "asked", "plan_accepted", "taken_over", PLAN, LINKS, JOBS, "note_kept"}
"""Of what may be done, what the pages offer without anything being opened or chosen first."""
ROLES = {
    "general_contractor": "r-amsel",
    "project_manager": "p-strand",
    "competent_person": "d-okoro",
    "trade": "m-ruiz",
    "inspector": "c-dunn",
    "utility": "s-wirth",
    "customer": "h-vane",
}
BUTTONS = {
    r"started-.*|finished-.*|as-planned-write-.*": "started",
    r"FormSubmitter:not-done-.*": "not_done",
    r"FormSubmitter:test-failed-.*": "test_failed",
    r"FormSubmitter:look-.*": "inspection_failed",
    r"FormSubmitter:release-.*": "hold_released",
    r"agreed-.*|no-answer-.*|FormSubmitter:refused-.*": "called",
    r"asked-(mail|text)-.*": "asked",
    r"put-in-force|FormSubmitter:accept.*": "plan_accepted",
    r"FormSubmitter:over-.*": "taken_over",
    r"FormSubmitter:delay-Write.*": "delayed",
    r"FormSubmitter:delay-Try.*|replan|again|stop|look-for-plans|keep-looking|choose-.*": PLAN,
    r"undo|FormSubmitter:take-back.*": "corrected",
    r"FormSubmitter:report-(\w+)-.*": "of the form",
    r"make-link-.*|end-.*|forget-.*|link-sent": LINKS,
    r"archive-.*|take-back-.*|FormSubmitter:(copy|begin)-job-.*": JOBS,
    r"clock-.*|close-card|earlier|later|speak-.*|ask .*|.*-seen|get .*|not-theirs|ask-cover|film-play": "looking",
}
"""What pressing a button does, by its key; one that is not here fails the test, so that somebody decides."""


class Office:
    """A served site in this process, with a session for every role."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        shutil.copy(bundled_sites()["orchard-lane"], folder / "lane.yaml")
        self.case: Case = scheduler.load(folder / "lane.yaml")
        ins = SignIns(create_engine(f"sqlite:///{folder / 'in.db'}"), "s" * 64)
        self.sessions = {}
        for role, person in ROLES.items():
            known = ins.signed_in(ins.open(*ins.invite("lane", person, role)) or "")
            assert known is not None
            self.sessions[role] = known.id
        monkeypatch.setattr(visitors, "_SERVED", [])
        set_up(Served({"lane": self.case.path}, ins, "https://trench.example"))
        self.ins = ins
        monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(folder))
        self.asked = ""
        monkeypatch.setattr(visitors, "asked_by", lambda: self.asked)

    def page(self, whose: str, slug: str, **asked: str) -> AppTest:
        """Run a page as the browser of somebody in a role asks for it, some days into the work."""
        self.asked = self.sessions.get(whose, "")
        shown = AppTest.from_file(str(MAIN), default_timeout=60)
        shown._page_hash = calc_hash("" if slug == "today" else slug)
        shown.session_state[f"moment of {self.case.path}"] = "2027-03-10T09:00:00-08:00"
        for name, value in asked.items():
            shown.query_params[name] = value
        return shown.run()


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with pytest.MonkeyPatch.context() as monkeypatch:
        here, job = Office(tmp_path_factory.mktemp("office"), monkeypatch), solved()
        there = Job(here.case, job.options, answer=job.answer, settled=True)
        monkeypatch.setattr("app.session.current_job", lambda case, **_: there)
        yield here


def act_of(key: str) -> str:
    """Return what pressing a button does; a button that is not in the table fails the test, so somebody decides."""
    found = [(act, m) for pattern, act in BUTTONS.items() if (m := re.fullmatch(pattern, key))]
    assert len(found) == 1, key
    act, match = found[0]
    return match[1] if act == "of the form" else act


def test_the_tables_have_every_page_and_every_role() -> None:
    assert set().union(*MAY_OPEN.values()) == set(TITLES)
    assert set(MAY_OPEN) == set(MAY_DO) == set(MAY_WRITE) == set(ROLES)


@pytest.mark.parametrize("role", ROLES)
def test_every_page_opens_for_its_roles_and_offers_what_they_may_do(office: Office, role: str) -> None:
    may = MAY_WRITE[role] | MAY_DO[role] | {"looking"}
    offered = set()
    for slug, title in {**TITLES, "site-editor": "Site editor"}.items():
        shown = office.page(role, slug)
        assert not shown.exception
        assert set(shown.session_state["pages"]) == MAY_OPEN[role]
        opened = slug in MAY_OPEN[role]
        assert (shown.title[0].value == title) == opened or slug == "today"
        offered |= {act_of(b.key) for b in shown.button}
        for box in shown.selectbox:
            if box.key == "report":
                offered |= {FORMS[label][0] for label in box.options}
        if MONEY not in may:
            assert not [m.value for m in (*shown.markdown, *shown.caption) if "$" in m.value]
    assert offered <= may, offered - may
    assert offered & OFFERED == may & OFFERED, "what somebody may do is offered to them"


def test_a_trade_is_offered_its_own_work_papers_and_calls_only(office: Office) -> None:
    own = own_names(office.case, next(p for p in office.case.site.people if p.id == ROLES["trade"]))
    assert own == {"m-ruiz", "Marta Ruiz", "Ruiz Electrical", "electrician", "Electrician"}
    work = office.case.network.by_id
    said = [b.key for b in office.page("trade", "record").button]
    started = [key.removeprefix("started-") for key in said if key.startswith("started-")]
    assert started
    assert {work[id_].trade for id_ in started} == {"electrician"}
    readers = next(b for b in office.page("trade", "paper").selectbox if b.key == "for")
    assert readers.options == ["Electrician"]
    assert not [b for b in office.page("trade", "paper", **{"for": "everybody"}).selectbox if "Everybody" in b.options]


def test_nobody_sees_nothing_whatever_the_address_says(office: Office) -> None:
    for slug in TITLES:
        shown = office.page("nobody", slug, person="c-dunn", site="lane")
        assert [e.value for e in shown.error] == ["Nobody is signed in here. Ask the contractor for your link."]
        assert [e.value for e in (*shown.button, *shown.title, *shown.markdown)] == [], slug


@pytest.mark.parametrize("role", ROLES)
def test_a_forged_address_makes_nobody_somebody_else(office: Office, role: str) -> None:
    shown = office.page(role, "inspections", stake=HOLD, person="c-dunn", role="inspector")
    release = [b for b in shown.button if b.key.startswith("FormSubmitter:release-")]
    assert bool(release) == (role == "inspector")


def test_the_contractor_sends_a_link_and_takes_it_back(office: Office) -> None:
    shown = office.page("general_contractor", "people")
    shown.button(key="make-link-n-cole").click().run()
    address = next(c.value for c in shown.code)
    number = next(m.value for m in shown.markdown if "**by voice**" in m.value)[-9:-2]
    links = [e.proto.url for e in shown.get("link_button")]
    assert [u.partition(":")[0] for u in links] == ["sms", "mailto"]
    assert not [u for u in links if number in u or number.replace(" ", "") in u]
    link = address.removeprefix("https://trench.example/in/")
    whose = office.ins.whose(link)
    assert whose is not None
    assert (whose.person, whose.role) == ("n-cole", "utility")
    token = office.ins.open(link, number)
    assert office.ins.signed_in(token or "") is not None
    shown.button(key="link-sent").click().run()
    assert not shown.code
    assert "1 phone signed in" in str([m.value for m in shown.markdown])
    shown.button(key="end-n-cole").click().run()
    assert office.ins.signed_in(token or "") is None


@pytest.mark.parametrize("role", [r for r in ROLES if r != "general_contractor"])
def test_nobody_else_sends_links_or_takes_them_back(office: Office, role: str) -> None:
    office.asked = office.sessions[role]
    somebody = office.case.site.people[0]
    for act in (lambda: send(office.case, somebody, 1), lambda: end(office.case, somebody)):
        with pytest.raises(BadInput, match="may not send links"):
            act()
    office.asked = "nobody"
    with pytest.raises(BadInput, match="any more"):
        stands(office.case, somebody)


def test_a_contractor_whose_session_was_just_ended_elsewhere_sends_no_more_links(office: Office) -> None:
    known = office.ins.signed_in(office.ins.open(*office.ins.invite("lane", "r-amsel", "general_contractor")) or "")
    assert known is not None
    office.asked = known.id
    assert visitors.visitor() is not None
    SignIns(office.ins.engine, "x" * 64).end(known.id)
    with pytest.raises(BadInput, match="any more"):
        send(office.case, office.case.site.people[0], 1)


def test_of_two_who_report_the_same_work_the_second_is_told(office: Office) -> None:
    second = office.page("general_contractor", "record")
    key = next(b.key for b in second.button if b.key.startswith("started-"))
    at, id_ = second.session_state["moment of " + str(office.case.path)], key.removeprefix("started-")
    with closing(place_of(office.case.site, office.case.path).open()) as journal:
        journal.append(Started(activity=id_, when=datetime.fromisoformat(at)), at=datetime.now(UTC), by="Daniel Okoro")
    second.button(key=key).click().run()
    (told,) = [w.value for w in second.warning if "somebody wrote just before" in w.value]
    assert "Daniel Okoro: Started" in told
    with closing(place_of(office.case.site, office.case.path).open()) as journal:
        assert len(journal.entries()) == 1
    assert not [w for w in second.run().warning if "just before" in w.value]


def test_today_names_who_else_is_there(office: Office) -> None:
    office.ins.note_seen(office.sessions["inspector"])
    said = str([c.value for c in office.page("general_contractor", "today").caption])
    assert "Also here now" in said
    assert "Carol Dunn" in said
    assert "Ruth Amsel" not in said


@pytest.mark.parametrize("role", ["trade", "inspector", "utility"])
def test_whoever_is_called_answers_on_their_own_phone(office: Office, role: str) -> None:
    shown = office.page(role, "today")
    person = next(p for p in office.case.site.people if p.id == ROLES[role])
    keys = [b.key for b in shown.button]
    yes = [k for k in keys if k.startswith("agreed-")]
    assert yes
    assert not [k for k in keys if k.startswith(("no-answer-", "asked-", "answered-"))]
    shown.button(key=yes[0]).click().run()
    with closing(place_of(office.case.site, office.case.path).open()) as journal:
        entry = journal.entries()[-1]
    assert isinstance(entry.event, Called)
    assert (entry.event.person, entry.event.answer, entry.by) == (person.id, "agreed", person.name)
    assert entry.known_by == "personal link"
