"""The papers, calendars, tables and hold tags of a plan, as files for people without the tool."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime

from scheduler.case import Case
from scheduler.errors import BadInput
from scheduler.export.audiences import find_party, parties
from scheduler.export.bundle import PaperOrder, bundle, usual_paper
from scheduler.export.from_journal import read_record
from scheduler.export.lookahead import Period
from scheduler.export.page_addresses import checked_base
from scheduler.export.paper_facts import PaperFacts
from scheduler.findings import Finding, Severity
from scheduler.ledger.heads import head_of
from scheduler.ledger.state import State
from scheduler.ledger.store import Journal
from scheduler.plan import Plan


def export(
    case: Case,
    plan: Plan,
    *,
    journal: Journal | None = None,
    first: date | None = None,
    weeks: int = 2,
    party: str = "",
    paper: str = "",
    link: str = "",
    earlier: Sequence[Plan] = (),
    before: Callable[[str], str] = lambda _: "",
    made: datetime | None = None,
) -> dict[str, bytes]:
    """Return the files of a plan by name: look-aheads and hold tags (PDF), calendars (ICS), tables (CSV).

    Parameters
    ----------
    case, plan
        The site and a plan made from it.
    journal
        The journal of the job, if one is kept: its appointments count, and the plans accepted in it
        number the changes of calendars.
    first, weeks
        The first day of the look-aheads, the plan's data date when left out, and how many weeks
        they look ahead: 1, 2 or 3.
    party
        Only for this trade, authority or outside party: its id or name; for everybody and each of
        them when left out.
    paper
        "letter" or "a4"; what is usual in the site's country when left out.
    link
        The address of the dashboard, for links and QR codes; none when left out.
    earlier
        Plans exported before, the oldest first, so that calendars update in place.
    before
        Gives the text of a calendar that was exported under a file name before, or "".
    made
        When they are made, an aware time that stands in the calendars; now when left out.

    Returns
    -------
    dict[str, bytes]
        The content of each file by its name, without folders.

    Raises
    ------
    BadInput
        When the plan is of another site or content, the party has nothing in it, the address is
        none, an earlier plan is of another job, or the journal or a calendar cannot be read.
    """
    if not case.made(plan):
        text, found = "was not made from this site as it stands.", plan.site.sha256[:12]
        raise BadInput([Finding("export/site", Severity.STOP, "The plan", text, found, case.sha256[:12])])
    base = checked_base(link)
    known, accepted = (State(), []) if journal is None else read_record(journal)
    head = head_of(journal.entries()) if journal is not None else None
    facts = PaperFacts(plan, case.site, case.network, known, str(head or ""))
    published = [PaperFacts(p, case.site, case.network) for p in (*accepted, *(_of_same_job(p, plan) for p in earlier))]
    chosen = parties(facts, published)
    stretch = Period(first or facts.local(plan.data_date).date(), weeks)
    order = PaperOrder(stretch, paper or usual_paper(facts), made or datetime.now(UTC), base)
    if party:
        chosen = [find_party(chosen, party)]
    return bundle(facts, chosen, order, earlier=published, before=before)


def _of_same_job(earlier: Plan, plan: Plan) -> Plan:
    if earlier.site.name != plan.site.name:
        text = "is a plan of another job."
        found = earlier.site.name
        raise BadInput(
            [Finding("export/earlier", Severity.STOP, "A plan given as earlier", text, found, plan.site.name)]
        )
    return earlier
