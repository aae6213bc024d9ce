"""The served dashboard as its pages see it: which sites there are, who is here, and what they may write."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import streamlit as st

import scheduler
from app.reading import read_archived
from app.served.gate_requests import BESIDE_HEADER, SESSION_HEADER
from app.served.one_browser import sessions_of
from app.served.served_roles import MAY_OPEN, MAY_WRITE, refusal
from app.served.sign_ins import ACT_S, PersonalLink, SignedIn, SignIns
from scheduler import BadInput, Case, Finding, Severity
from scheduler.ledger import Archived, Event, HoldReleased, Journal, JournalPlace, archived, place_of
from scheduler.site import Person

SECOND_ACT = "second act"
"""Where a page puts the code that was just typed, with when; it is used for one entry."""
SIGNED_IN_AS = "signed in as"
PEOPLE = "people"
"""The page from which links are sent, on a served dashboard only."""
OWN_JOBS = "jobs"
"""The page of all jobs of whoever is here, on a served dashboard only."""
LOOK_AGAIN_S = 1.0
"""How long a reading of whether a job is archived is used; in a database the record behind it may be a second older.

The record is asked at every write.
"""


@dataclass(frozen=True, slots=True)
class Served:
    """What is served: the sites by the names of their files, and who signs in."""

    sites: dict[str, Path]
    sign_ins: SignIns
    public_url: str = ""
    named_before: Callable[[str], bool] = lambda _: False
    """Whether anything else was ever given for a site of a name, such as the address of a calendar."""

    def address_of(self, made: PersonalLink) -> str:
        """Return the whole address of a new link."""
        return f"{self.public_url}/in/{made.link}"

    def known_as(self, mail: str) -> list[tuple[str, str, str]]:
        """Return the sites of a mail address, with person and role there; none where it is the address of two."""
        found: list[tuple[str, str, str]] = []
        for name, path in list(self.sites.items()):
            with suppress(BadInput, OSError):
                people = [p for p in _CASES.case(path).site.people if p.mail and p.mail.lower() == mail]
                if len(people) == 1 and self.person(SignedIn("", name, people[0].id, people[0].role)) is not None:
                    found.append((name, people[0].id, people[0].role))
        return found

    def person(self, known: SignedIn) -> Person | None:
        """Return the person of the site file; None when they are not in the role they were let in with today."""
        try:
            site = self.case(known.site).site
        except (BadInput, OSError, KeyError):  # what cannot be read lets nobody in
            return None
        today = datetime.now(UTC).astimezone(ZoneInfo(site.site.time_zone)).date()
        person = next((p for p in site.people if p.id == known.person), None)
        if person is None or person.role != known.role:
            return None
        begun = person.from_ is None or site.site.invented or person.from_ <= today
        return person if begun and (person.until is None or site.site.invented or today <= person.until) else None

    def case(self, site: str) -> Case:
        """Return a site as its file says now; raises BadInput or OSError, and KeyError where it is not served."""
        return _CASES.case(self.sites[site])

    def case_before(self, site: str) -> Case | None:
        """Return a site as its file could last be read by this server; None when it never could."""
        path = self.sites.get(site)
        return _CASES.before(path) if path is not None else None

    def archived(self, site: str, *, at_once: bool = False) -> Archived | None:
        """Return since when a job is archived; None while it is not, or where nobody can tell."""
        return _ARCHIVES.of(site, self, at_once=at_once)

    def same_person(self, one: SignedIn, other: SignedIn) -> bool:
        """Tell whether two site files name the same human: one name, and nothing that speaks against it."""
        two = self.person(one), self.person(other)
        if two[0] is None or two[1] is None or _plain(two[0].name) != _plain(two[1].name):
            return False
        told = [(two[0].mail.lower(), two[1].mail.lower()), (_digits(two[0].phone), _digits(two[1].phone))]
        known = [a == b for a, b in told if a and b]
        return all(known) and (bool(known) or two[0].id == two[1].id)


class _Cases:
    """Sites as they were read last, read again when their file changed."""

    def __init__(self) -> None:
        self._read: dict[Path, tuple[float, Case]] = {}

    def case(self, path: Path) -> Case:
        changed = path.stat().st_mtime
        kept = self._read.get(path)
        if kept is None or kept[0] != changed:
            kept = self._read[path] = (changed, scheduler.load(path))
        return kept[1]

    def before(self, path: Path) -> Case | None:
        kept = self._read.get(path)
        return kept[1] if kept else None


class _Archives:
    """Whether jobs are archived, as their records said a moment ago."""

    def __init__(self) -> None:
        self._read: dict[Path, tuple[float, Archived | None]] = {}

    def of(self, site: str, here: Served, *, at_once: bool) -> Archived | None:
        path = here.sites.get(site)
        if path is None:
            return None
        at, found = self._read.get(path, (0.0, None))
        now = time.monotonic()
        if at and now - at < LOOK_AGAIN_S and not at_once:
            return found
        with suppress(BadInput, OSError):
            case = here.case(site)
            place = place_of(case.site, case.path)
            try:
                found = read_archived(place, at_once=at_once)
            except BadInput:  # that may be said of a record of which not every entry can be read
                with closing(place.open()) as journal:
                    found = archived(journal)
        self._read[path] = (now, found)
        return found


_CASES, _ARCHIVES = _Cases(), _Archives()
_SERVED: list[Served] = []


def set_up(served: Served) -> None:
    """Serve these sites from this process; it cannot be undone."""
    _SERVED[:] = [served]


def served() -> Served | None:
    """Return what is served; None on the dashboard of one machine."""
    return _SERVED[0] if _SERVED else None


def visitor(*, at_once: bool = False) -> tuple[SignedIn, Person] | None:
    """Return who is before this page of a served dashboard; None when nobody is known.

    A session that another program ended may be known here for a second more. `at_once` asks anew: for whatever changes
    something.

    Before an archived job stands nobody: nothing of it is shown to anybody, and nothing can be done.
    """
    here = served()
    if here is not None and at_once:
        here.sign_ins.lately.forget()
    found = _before_page()
    return None if found is None or found[2] is not None else found[:2]


def archived_here() -> tuple[SignedIn, Person, Archived] | None:
    """Return who asks for a job that is archived, and since when it is; None where the job is open or nobody known."""
    found = _before_page()
    return None if found is None or found[2] is None else (found[0], found[1], found[2])


def _before_page() -> tuple[SignedIn, Person, Archived | None] | None:
    here = served()
    known = here.sign_ins.session_lately(asked_by()) if here else None
    person = here.person(known) if here and known else None
    return (known, person, here.archived(known.site)) if here and known and person else None


def mine(*, at_once: bool = False) -> list[SignedIn]:
    """Return every session of this browser, each of another site, the one of this page first; `at_once` as above."""
    here, now = served(), asked_by()
    if here is not None and at_once:
        here.sign_ins.lately.forget()
    return sessions_of(here.sign_ins, (now, *asked_beside())) if here and now else []


def asked_by() -> str:
    """Return the id of the session that the gate says this page is asked in; empty where it says none."""
    return st.context.headers.get(SESSION_HEADER) or ""


def asked_beside() -> tuple[str, ...]:
    """Return the ids of all sessions of the browser that the gate says this page is asked in."""
    return tuple(filter(None, (st.context.headers.get(BESIDE_HEADER) or "").split(",")))


def admit_visitor() -> None:
    """Stop a page of a served dashboard where nobody is known, and keep nothing in it of somebody before."""
    if served() is None:
        return
    found = visitor() or archived_here()
    if found is None:
        st.session_state.clear()
        st.error("Nobody is signed in here. Ask the contractor for your link.")
        st.stop()
    if st.session_state.get(SIGNED_IN_AS) not in (None, found[0].id):
        st.session_state.clear()
    st.session_state[SIGNED_IN_AS] = found[0].id


def seen_here(seconds: float) -> frozenset[str]:
    """Return the ids of the people of this site who were heard of in the last seconds; none on one machine."""
    here, found = served(), visitor()
    return here.sign_ins.seen_since(found[0].site, seconds) if here and found else frozenset()


def may_open(page: str) -> bool:
    """Tell whether who is here may open a page; on the dashboard of one machine everybody may, and sends no links."""
    if served() is None:
        return page not in (PEOPLE, OWN_JOBS)
    found = visitor()
    return found is not None and page in MAY_OPEN.get(found[1].role, frozenset())


def guarded(place: JournalPlace, case: Case) -> JournalPlace:
    """Return a place whose journals ask, before every write, whether who is here may write it."""
    here = served()
    if here is None:
        return place
    found = visitor() or archived_here()

    def set_up_journal(journal: Journal) -> None:
        journal.known_by = found[0].how if found else ""

        def allow(happened: Sequence[Event]) -> None:
            journal.known_by = _allowed(here, found[0] if found else None, case, happened)

        journal.allow = allow

    return replace(place, set_up=set_up_journal)


def note_code(code: str) -> None:
    """Keep a code that was typed just now for the entry that it confirms."""
    st.session_state[SECOND_ACT] = (code, time.monotonic())


def _allowed(here: Served, known: SignedIn | None, case: Case, happened: Sequence[Event]) -> str:
    """Return how the writer is known; raises BadInput when they may not write all of it."""
    known = here.sign_ins.session(known.id) if known else None
    person = here.person(known) if known else None
    if known is None or person is None:
        raise refused("Nobody is signed in here any more.")
    if here.archived(known.site) is not None:
        raise refused("This job is archived. Nothing is written down in it.")
    if here.sites.get(known.site) != case.path:
        raise refused("This is the record of another site.")
    if not MAY_WRITE.get(person.role):
        raise refused(f"{person.name} may look here, and write nothing down.")
    if any(isinstance(e, HoldReleased) for e in happened) and len(happened) > 1:
        raise refused("A release is written by itself.")
    confirmed = False
    for event in happened:
        confirmed = isinstance(event, HoldReleased) and confirm(here.sign_ins, known, event, _typed())
        why = refusal(case, person, event, second_act=confirmed)
        if why:
            raise refused(why)
    return f"{known.how} and code" if confirmed else known.how


def confirm(sign_ins: SignIns, known: SignedIn, release: HoldReleased, code: str) -> bool:
    """Tell whether a code confirms this very release; the act it makes is used up at once."""
    about = hashlib.sha256(release.model_dump_json().encode()).hexdigest()
    act = sign_ins.confirm(known.id, code, about) if code else None
    return act is not None and sign_ins.spend(known.id, act, about)


def _plain(name: str) -> str:
    return " ".join(name.lower().split())


def _digits(phone: str) -> str:
    return "".join(c for c in phone if c.isdigit())


def _typed() -> str:
    code, when = st.session_state.pop(SECOND_ACT, ("", 0.0))
    return str(code) if time.monotonic() - when < ACT_S else ""


def refused(words: str) -> BadInput:
    """Return what is raised where something is not for who is here to do."""
    return BadInput([Finding("served/refused", Severity.STOP, "The entry", words)])
