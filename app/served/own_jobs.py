"""The jobs of whoever is before a page: which they see, and beginning, copying, archiving one and taking that back.

A person sees the jobs whose links were opened on this phone, each with the role that its own site file gives them, and
no list of others. Each of these acts asks anew whether who is here may do it, by their role on that very job.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import scheduler
from app.served.one_browser import admit_beside, site_was_known
from app.served.served_roles import JOBS, may
from app.served.sign_ins import SignedIn
from app.served.visitors import Served, mine, refused, served
from scheduler import BadInput, Case
from scheduler.ledger import Archived, place_of, set_archived
from scheduler.site import Person
from scheduler.site.editor import Draft, Start, copied_site, file_name, made_own, new_site, read_text, write_beside

MOST_NAMES = 99
"""Of new site files whose names differ by their number only."""


@dataclass(frozen=True, slots=True)
class OwnJob:
    """A job as somebody sees it who is on it."""

    site: str
    """The name of its file, as in addresses."""
    known: SignedIn
    case: Case | None
    """None while its file cannot be read: then only who was on it before is told so, and why."""
    person: Person
    fault: BadInput | None = None
    archived: Archived | None = None
    here: bool = False
    """It is the one that this page is of."""

    @property
    def runs_it(self) -> bool:
        """Whether they may copy it, archive it and take that back."""
        return self.case is not None and may(self.case, self.person, JOBS)


def own_jobs() -> list[OwnJob]:
    """Return the jobs of whoever is here, this page's first; an archived one only to whoever may take it back."""
    here = served()
    if here is None:
        return []
    found = [_own(here, known, first=not k) for k, known in enumerate(mine())]
    return [job for job in found if job is not None and (job.archived is None or job.runs_it)]


def _own(here: Served, known: SignedIn, *, first: bool) -> OwnJob | None:
    try:
        case = here.case(known.site)
    except (BadInput, OSError, KeyError) as error:
        before = here.case_before(known.site)
        people = before.site.people if before else []
        was = next((p for p in people if (p.id, p.role) == (known.person, known.role)), None)
        fault = error if isinstance(error, BadInput) else refused("The file of this job is not there just now.")
        return None if was is None else OwnJob(known.site, known, None, was, fault, here=first)
    person = here.person(known)
    if person is None:
        return None
    return OwnJob(known.site, known, case, person, archived=here.archived(known.site), here=first)


def may_write_here() -> bool:
    """Tell whether this server may write new site files, which whoever runs it decides by the rights of the folder."""
    here = served()
    return here is not None and any(os.access(folder, os.W_OK) for folder in _folders(here))


def begin(by: str, template: str, start: Start) -> str:
    """Begin a job from a template, with its maker from the job `by` as the only person; return its site."""
    maker = _asked(by, archived=None)
    return _keep(maker, lambda: made_own(new_site(template, start), maker.person, with_people=False), start.name)


def copy(of: str, name: str, first_day: date | None, *, with_people: bool) -> str:
    """Begin a job that says what the file of another says, without that one's record and bookings; return its site."""
    job = _asked(of, archived=None)

    def made() -> Draft:
        text = read_text(job.path)
        return made_own(copied_site(text, name=name, first_day=first_day), job.person, with_people=with_people)

    return _keep(job, made, name)


def archive(site: str) -> None:
    """Archive a job: nothing of it is deleted, shown, or written until that is taken back."""
    _set(_asked(site), to=True)


def take_back(site: str) -> None:
    """Take back that a job was archived."""
    _set(_asked(site, archived=True), to=False)


@dataclass(frozen=True, slots=True)
class _Maker:
    here: Served
    known: SignedIn
    case: Case
    path: Path
    person: Person


def _asked(site: str, *, archived: bool | None = False) -> _Maker:
    """Return who asks, for a job of theirs; raises BadInput where it is not theirs to do, or not as `archived` says."""
    here = served()
    known = next((k for k in mine(at_once=True) if k.site == site), None)
    person = here.person(known) if here and known else None
    if here is None or known is None or person is None:
        raise refused("Nobody is signed in here for that job any more.")
    case = here.case(site)
    if not may(case, person, JOBS):
        raise refused(f"{person.name} may not begin, copy or archive jobs.")
    now = here.archived(site, at_once=True)
    if archived is not None and archived != (now is not None):
        raise refused("This job is archived." if now else "This job is not archived any more.")
    return _Maker(here, known, case, here.sites[site], person)


def _set(asked: _Maker, *, to: bool) -> None:
    place = place_of(asked.case.site, asked.case.path)
    with closing(place.open()) as journal:
        set_archived(journal, to=to, by=asked.person.name)
    asked.here.archived(asked.known.site, at_once=True)


def _keep(maker: _Maker, made: Callable[[], Draft], name: str) -> str:
    """Write a new site file beside the others and let its maker in, in the browser they are in."""
    if not name.strip():
        raise refused("A job needs a name.")
    draft = made()
    scheduler.load(draft.text(), path=maker.path.with_name(file_name(name)))  # nothing is kept that cannot be planned
    for site in _names(name):
        if site in maker.here.sites or site_was_known(maker.here.sign_ins, site) or maker.here.named_before(site):
            continue
        try:
            file = write_beside(draft, maker.path.parent, site)
        except FileExistsError:
            continue
        except OSError as error:
            raise refused(f"This server may not write into its folder of sites: {error.strerror}.") from error
        maker.here.sites[site] = file
        admit_beside(maker.here.sign_ins, maker.known, site, maker.person.id, maker.person.role)
        return site
    raise refused("There are too many jobs of that name.")


def _names(name: str) -> list[str]:
    first = re.sub(r"\.yaml$", "", file_name(name))
    return [first, *(f"{first}-{n}" for n in range(2, MOST_NAMES + 1))]


def _folders(here: Served) -> set[Path]:
    return {path.parent for path in here.sites.values()}
