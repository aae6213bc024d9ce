"""Links as the contractor sends them from a page: each of these asks anew whether who is here may do it."""

from __future__ import annotations

from datetime import UTC, datetime
from urllib.parse import quote

from app.served.served_roles import LINKS, may
from app.served.sign_ins import SignInState
from app.served.visitors import Served, refused, served, visitor
from scheduler import Case
from scheduler.site import Person
from scheduler.spoken import short_day

MOST_DAYS = 60


def send(case: Case, person: Person, days: int) -> tuple[str, str]:
    """Return the address of a new link and the number that opens it. Raises BadInput when that is not theirs to do."""
    here, site = _asked(case, person)
    made = here.sign_ins.invite(site, person.id, person.role, days=min(max(days, 1), MOST_DAYS))
    return here.address_of(made), made.number


def end(case: Case, person: Person, *, code: bool = False) -> int:
    """End every link and session of somebody, with `code` their code too; return how many could still be used."""
    here, site = _asked(case, person)
    count = here.sign_ins.revoke(site, person.id)
    if code:
        here.sign_ins.forget_code(site, person.id)
    return count


def stands(case: Case, person: Person) -> SignInState:
    """Return how somebody stands with links, sessions and code."""
    here, site = _asked(case, person)
    return here.sign_ins.access(site, person.id)


def drafts(site: str, person: Person, address: str, until: datetime) -> tuple[str, str]:
    """Return a text message and a mail with a link as addresses (RFC 5724, RFC 6068); the number is in neither."""
    words = f"{person.name}: your link to {site}, good until {short_day(until)}. I will tell you its number."
    digits = "".join(c for c in person.phone if c in "+0123456789")
    text = f"sms:{digits}?body={quote(f'{words} {address}')}"
    below = quote(f"{words}\r\n\r\n{address}")
    return text, f"mailto:?subject={quote(site)}&body={below}"


def moment_of(seconds: float) -> datetime:
    """Return a moment from seconds since 1970."""
    return datetime.fromtimestamp(seconds, UTC)


def _asked(case: Case, person: Person) -> tuple[Served, str]:
    here, found = served(), visitor(at_once=True)
    if here is None or found is None or here.sites.get(found[0].site) != case.path:
        raise refused("Nobody is signed in here any more.")
    if not may(case, found[1], LINKS):
        raise refused(f"{found[1].name} may not send links.")
    if person not in case.site.people:
        raise refused("There is nobody of that name on this site.")
    return here, found[0].site
