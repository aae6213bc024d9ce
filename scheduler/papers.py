"""The papers, calendars, tables and hold tags of a plan, as files for people without the tool."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime

from scheduler.assembly import schedule_of
from scheduler.case import Case, units_of
from scheduler.errors import BadInput
from scheduler.export.audiences import everybody_named, find_party, parties
from scheduler.export.bundle import PaperOrder, bundle, usual_paper
from scheduler.export.calendar_files import REFRESH, calendar, empty_calendar
from scheduler.export.from_journal import accepted_plans
from scheduler.export.lookahead import Period
from scheduler.export.page_addresses import checked_base
from scheduler.export.paper_facts import PaperFacts
from scheduler.findings import Finding, Severity
from scheduler.ledger.archiving import archived
from scheduler.ledger.events import PlanAccepted
from scheduler.ledger.state import fold, state_at
from scheduler.ledger.store import Journal
from scheduler.plan import Plan
from scheduler.situation.plan_in_force import PlanInForce
from scheduler.situation.reopened import reopened
from scheduler.situation.situation import Situation, situation_at
from scheduler.spoken import Language
from scheduler.units import in_units_of


@in_units_of(units_of)
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
    at: datetime | None = None,
    tags_in: Language = "en",
) -> dict[str, bytes]:
    """Return the files of a plan by name: look-aheads and hold tags (PDF), calendars (ICS), tables (CSV).

    Parameters
    ----------
    case, plan
        The site and a plan made from it.
    journal
        The journal of the job, if one is kept. Then the plan is taken as the plan in force, and the papers say how
        the site stands: what is recorded, what is planned, and what is due and not on record. The plans
        accepted in it number the changes of calendars.
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
    earlier, before
        Plans exported before, the oldest first, so that calendars update in place; and what gives the text of a
        calendar that was exported under a file name before, or "".
    made, tags_in
        When they are made, an aware time that stands in the calendars, now when left out; the language of hold tags.
    at
        An aware moment: the site as it was known to stand then. When left out, all that is written down counts, and
        the moment is `made`.

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
    case = _of_this_site(case, plan)
    base = checked_base(link)
    made = made or datetime.now(UTC)
    accepted = [] if journal is None else accepted_plans(journal)
    situation = None if journal is None else _situation(case, plan, journal, accepted, made, at)
    facts = PaperFacts(plan, case.site, case.network, situation)
    sent_before = [*(p for _, p in accepted), *(_of_same_job(p, plan) for p in earlier)]
    published = [PaperFacts(p, case.site, case.network) for p in sent_before]
    chosen = parties(facts, published)
    stretch = Period(first or facts.local(plan.data_date).date(), weeks)
    order = PaperOrder(stretch, paper or usual_paper(facts), made, base, tags_in)
    if party:
        chosen = [find_party(chosen, party)]
    return bundle(facts, chosen, order, earlier=published, before=before)


@in_units_of(units_of)
def calendar_at_address(case: Case, journal: Journal | None, party: str, *, now: datetime, link: str = "") -> bytes:
    """Return a party's calendar (ICS) by the plan in force, for an address that is read again and again.

    Within an hour (`REFRESH`) and while nothing is written down it is the same, byte for byte. It has nothing planned
    in it while no plan was accepted, and once the job is archived.

    Parameters
    ----------
    journal
        The journal of the job; None where nothing was written down yet.
    party
        The id or name of a trade, authority or outside party of the site file, or "everybody".
    now
        An aware moment; the clock of an invented site stands at its last entry instead.
    link
        The address of the dashboard, for links; none when left out.

    Raises
    ------
    BadInput
        When the party is nobody of this site, the plan in force was made from other content of the site file, or the
        journal cannot be read.
    """
    chosen = find_party(everybody_named(case.site), party)
    if journal is not None and (since := archived(journal)) is not None:
        local = since.at.astimezone(case.network.clock.when(0).tzinfo)
        return empty_calendar(case.site.site.name, chosen, local, archived=True)
    entries, accepted = (journal.entries(), accepted_plans(journal)) if journal is not None else ((), [])
    last = [e.at for e in entries[-1:]]
    hour = datetime.fromtimestamp(now.timestamp() // REFRESH.total_seconds() * REFRESH.total_seconds(), UTC)
    if case.site.site.invented:
        moment = max([case.network.clock.when(case.network.data_date), *last])
    else:
        moment = max([hour, *last])
    if journal is None or not accepted:
        return empty_calendar(case.site.site.name, chosen, moment)
    plan = accepted[-1][1]
    case = _of_this_site(case, plan)
    facts = PaperFacts(plan, case.site, case.network, _situation(case, plan, journal, accepted, moment, None))
    sent = [PaperFacts(p, case.site, case.network) for _, p in accepted]
    return calendar(facts, chosen, made=moment, earlier=sent, base=checked_base(link), at_address=True)


def _of_this_site(case: Case, plan: Plan) -> Case:
    """Return the site with the margin of a plan; raises BadInput when the plan was made from something else."""
    if not case.made(plan):
        text, found = "was not made from this site as it stands.", plan.site.sha256[:12]
        raise BadInput([Finding("export/site", Severity.STOP, "The plan", text, found, case.sha256[:12])])
    return case.fitting(plan)


def _situation(
    case: Case,
    plan: Plan,
    journal: Journal,
    accepted: Sequence[tuple[PlanAccepted, Plan]],
    made: datetime,
    at: datetime | None,
) -> Situation:
    """Return the site as it stands, with a plan to work by: one that was accepted, or one made from the site file."""
    entries = journal.entries()
    moment = made if at is None else at
    state = fold(entries, moment) if at is None else state_at(entries, moment)
    activities, holds = {a.id for a in case.network.activities}, {h.id for h in case.network.holds}
    fits = activities.issuperset(a.id for a in plan.activities) and all(holds.issuperset(v.covers) for v in plan.visits)
    dates = schedule_of(plan, case.network) if plan.activities and fits else None
    force = PlanInForce(plan, case.network, dates, proposal=state.plan is None)
    same = [a for a, p in accepted if p == plan]
    stood = reopened(case.site, case.network, entries, same[-1], plan) if same else None
    if stood is not None:
        force = PlanInForce(plan, *stood, accepted=True)
    return situation_at(case.site, case.network, entries, moment, force, state=state)


def _of_same_job(earlier: Plan, plan: Plan) -> Plan:
    if earlier.site.name != plan.site.name:
        text = "is a plan of another job."
        found = earlier.site.name
        raise BadInput(
            [Finding("export/earlier", Severity.STOP, "A plan given as earlier", text, found, plan.site.name)]
        )
    return earlier
