"""On a served dashboard every write asks who is here, at the journal itself."""

from __future__ import annotations

import shutil
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
import streamlit as st
from sqlalchemy import create_engine

import scheduler
from app.served import visitors
from app.served.sign_ins import SignedIn, SignIns
from app.served.visitors import SECOND_ACT, Served, confirm, guarded, note_code, set_up
from scheduler import BadInput, Case, bundled_sites
from scheduler.ledger import HoldReleased, JournalPlace, place_of, write_down
from scheduler.ledger.day_events import NoteKept
from scheduler.ledger.events import Started

NOON = datetime(2027, 3, 10, 19, tzinfo=UTC)
CODE = "green 42 pipe"
HOLD = "hold/conduit-look/orchard-row/L1"


class ServedHere:
    """A served site in this process, and whoever the test puts before it."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        shutil.copy(bundled_sites()["orchard-lane"], folder / "lane.yaml")
        self.case: Case = scheduler.load(folder / "lane.yaml")
        self.ins = SignIns(create_engine(f"sqlite:///{folder / 'in.db'}"), "s" * 64)
        self.served = Served({"lane": self.case.path}, self.ins)
        self.known: SignedIn | None = None
        (folder / "journals").mkdir()
        self.folder = str(folder / "journals")
        monkeypatch.setattr(visitors, "_SERVED", [])
        set_up(self.served)
        monkeypatch.setattr(visitors, "visitor", self._visitor)

    def _visitor(self) -> object:
        person = self.served.person(self.known) if self.known else None
        return (self.known, person) if self.known and person else None

    def sign_in(self, person: str, role: str) -> SignedIn:
        self.known = self.ins.signed_in(self.ins.open(*self.ins.invite("lane", person, role)) or "")
        assert self.known is not None
        self.ins.choose_code(self.known.id, CODE)
        return self.known

    @property
    def place(self) -> JournalPlace:
        return guarded(place_of(self.case.site, self.case.path, self.folder), self.case)

    def write(self, event: object, by: str = "x", place: JournalPlace | None = None) -> object:
        with closing((place or self.place).open()) as journal:
            return write_down(journal, self.case.site, self.case.network, event, at=NOON, by=by)  # type: ignore[arg-type]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ServedHere:
    return ServedHere(tmp_path, monkeypatch)


def release(person: str = "c-dunn") -> HoldReleased:
    return HoldReleased(hold=HOLD, person=person, role="inspector", evidence="Seen.", when=NOON)


def test_nobody_writes_nothing(here: ServedHere) -> None:
    with pytest.raises(BadInput, match="Nobody is signed in"):
        here.write(NoteKept(words="Hello", when=NOON))
    with closing(here.place.open()) as journal, pytest.raises(BadInput, match="Nobody"):
        journal.attach(b"%PDF-1.7\nstartxref\n0\n%%EOF\n")


def test_whoever_is_known_writes_by_role_and_the_entry_says_how(here: ServedHere) -> None:
    here.sign_in("r-amsel", "general_contractor")
    assert here.write(NoteKept(words="Hello", when=NOON)).known_by == "personal link"  # type: ignore[attr-defined]
    here.sign_in("h-vane", "customer")
    with pytest.raises(BadInput, match="may look here"):
        here.write(NoteKept(words="Hello", when=NOON))
    here.sign_in("m-ruiz", "trade")
    other = next(a.id for a in here.case.network.activities if a.trade and a.kind.name == "DIG")
    with pytest.raises(BadInput, match="only"):
        here.write(Started(activity=other, when=NOON))


def test_a_release_needs_the_code_each_time(here: ServedHere) -> None:
    here.sign_in("c-dunn", "inspector")
    with pytest.raises(BadInput, match="your own code"):
        here.write(release())
    note_code("wrong one")
    with pytest.raises(BadInput, match="your own code"):
        here.write(release())
    note_code(CODE)
    assert here.write(release()).known_by == "personal link and code"  # type: ignore[attr-defined]
    assert SECOND_ACT not in st.session_state
    with pytest.raises(BadInput, match="your own code"):
        here.write(release())


def test_the_contractor_releases_nothing_with_whatever_code(here: ServedHere) -> None:
    here.sign_in("r-amsel", "general_contractor")
    note_code(CODE)
    with pytest.raises(BadInput, match="may not write down"):
        here.write(release("c-dunn"))


def test_a_session_revoked_or_of_another_site_or_role_writes_nothing(here: ServedHere) -> None:
    here.sign_in("r-amsel", "general_contractor")
    before = here.place
    here.ins.revoke("lane", "r-amsel")
    with pytest.raises(BadInput, match="any more"):
        here.write(NoteKept(words="Late", when=NOON), place=before)
    here.sign_in("r-amsel", "trade")  # not what the site file says
    with pytest.raises(BadInput, match="any more"):
        here.write(NoteKept(words="Hello", when=NOON))
    other = here.ins.signed_in(here.ins.open(*here.ins.invite("street", "r-amsel", "general_contractor")) or "")
    here.known = other
    with pytest.raises(BadInput, match="any more"):
        here.write(NoteKept(words="Hello", when=NOON))


def test_a_code_confirms_one_release_for_its_own_session(here: ServedHere) -> None:
    known = here.sign_in("c-dunn", "inspector")
    assert confirm(here.ins, known, release(), CODE)
    assert not confirm(here.ins, known, release(), "")
    here.ins.end(known.id)
    assert not confirm(here.ins, known, release(), CODE)
