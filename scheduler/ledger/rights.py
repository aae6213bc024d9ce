"""Who may look at something, release it, or order and lift a stop: by the site file, on the day it is done."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from scheduler.findings import Finding, Severity
from scheduler.ledger.event_fields import Right
from scheduler.network.model import Hold, Network
from scheduler.site.people import Inspection, Person
from scheduler.site.site_record import Site

LOOKING = ("inspector", "utility")
"""Roles of those who look at work for an authority."""
CONTRACTOR = "general_contractor"
COMPETENT = "competent_person"


@dataclass(frozen=True, slots=True)
class Permission:
    """Whether something is allowed, and why."""

    yes: bool
    because: str
    right: Right = ""


def local_day(site: Site, when: datetime) -> date:
    """Return the date on site of a moment."""
    return when.astimezone(ZoneInfo(site.site.time_zone)).date()


def in_office(person: Person, day: date) -> bool:
    """Tell whether a person has the role on a day."""
    return (person.from_ is None or person.from_ <= day) and (person.until is None or day <= person.until)


def person_of(site: Site, id_: str) -> Person | None:
    """Return a person of the site file by id."""
    return next((p for p in site.people if p.id == id_), None)


def inspection_of(site: Site, network: Network, look: str) -> Inspection | None:
    """Return the inspection that a look belongs to; None for outside work."""
    rule = next((r.id for r in network.visit_rules if look in r.looks), None)
    return next((i for i in site.inspections if i.id == rule), None)


def authority_of(site: Site, network: Network, hold: Hold) -> str:
    """Return whose people release a hold: the inspection's authority, or who does the outside work it waits for."""
    inspection = inspection_of(site, network, hold.look)
    if inspection is not None:
        return inspection.authority
    return next((w.by for w in site.outside_work if f"outside/{w.id}" == hold.look), "")


def releasers(site: Site, network: Network, hold: Hold, when: datetime | None = None) -> tuple[Person, ...]:
    """Return who may release a hold: the person named, then that person's deputies in the same role.

    A hold that names nobody is released by the authority's own people; a person named for an authority's inspection
    counts only when that person is of the authority. `when`: only those who have the role on that day.
    """
    inspection = inspection_of(site, network, hold.look)
    authority = authority_of(site, network, hold)
    people = [p for p in site.people if when is None or in_office(p, local_day(site, when))]
    if not hold.released_by:
        return tuple(p for p in people if authority and p.of == authority and p.role in LOOKING)
    if inspection is not None:
        people = [p for p in people if p.of == authority]
    if all(p.id != hold.released_by for p in site.people):  # a firm or authority by its name
        return tuple(p for p in people if p.of == hold.released_by)
    named = next(p for p in site.people if p.id == hold.released_by)
    deputies = [p for p in people if p.deputy_of == named.id and p.role == named.role]
    return tuple([*(p for p in people if p.id == named.id), *deputies])


def may_release(site: Site, network: Network, hold: Hold, person: Person, when: datetime | None = None) -> Permission:
    """Tell whether a person may release a hold, in a sentence that can be shown to them."""
    allowed = releasers(site, network, hold, when)
    if any(p.id == person.id for p in allowed):
        return Permission(True, f"{person.name} may release it.", _right(hold, person))
    who = f"only {names(allowed)} may" if allowed else "nobody is named in the site file who may"
    role = person.role.replace("_", " ")
    return Permission(False, f"{person.name} ({role}) may not release this hold point: {who}.")


def may_look(site: Site, network: Network, hold: Hold, inspector: str, when: datetime) -> Permission:
    """Tell whether a person, by id, may pass what a hold waits for: one of the authority's people on that day."""
    authority, person = authority_of(site, network, hold), person_of(site, inspector)
    here = [p for p in site.people if p.of == authority and p.role in LOOKING and in_office(p, local_day(site, when))]
    if person is not None and any(p.id == person.id for p in here):
        return Permission(True, f"{person.name} may pass it.", _right(hold, person))
    who = f"only {names(here)} may" if here else f"nobody of {authority} stands under `people` in the site file"
    return Permission(False, f"{person.name if person else inspector} may not pass this: {who}.")


def _right(hold: Hold, person: Person) -> Right:
    if person.id == hold.released_by:
        return "named"
    return "deputy" if person.deputy_of and person.deputy_of == hold.released_by else "authority"


def names(people: Sequence[Person]) -> str:
    """Name people with their firm, the first before any others: `C. Dunn (City), or B. Ito`."""
    if not people:
        return "nobody named"
    first = people[0].name + (f" ({people[0].of})" if people[0].of else "")
    return ", or ".join([first, *(p.name for p in people[1:])])


def right_findings(site: Site, network: Network) -> Iterator[Finding]:
    """Give what keeps hold points from ever being released: a releaser who is not of the authority, or nobody."""
    told: set[str] = set()
    for hold in network.holds:
        inspection = inspection_of(site, network, hold.look)
        about = inspection.name if inspection else hold.name
        if about in told or releasers(site, network, hold):
            continue
        told.add(about)
        authority = authority_of(site, network, hold)
        named = person_of(site, hold.released_by)
        if named is not None:
            text = f"{named.name} is to release it, but is of {named.of or 'no firm that is named'}."
        elif hold.released_by:
            text = f"'{hold.released_by}' is to release it, but nobody under `people` is of that name or firm."
        else:
            text = "Nobody may release it: no inspector or utility person of the authority stands under `people`."
        yield Finding(
            "people/releaser",
            Severity.FIX,
            about,
            text,
            found=(named.of if named else "") or "nobody",
            required=f"a person of {hold.released_by if hold.released_by and named is None else authority}",
            source="site file: people; inspections and keep_open, released_by",
            remedy="Name somebody of the authority, or work that waits for this can never be released.",
        )
