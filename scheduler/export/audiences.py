"""Who a paper or calendar is for: everybody, a trade, an authority, or others who work on site."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from scheduler.errors import BadInput
from scheduler.export.paper_facts import PaperFacts
from scheduler.findings import Finding, Severity
from scheduler.plan import PlanActivity, PlanVisit, put_together
from scheduler.site.faults import nearest
from scheduler.site.site_record import Site


@dataclass(frozen=True, slots=True)
class Audience:
    """One reader of papers and calendars."""

    kind: Literal["everybody", "trade", "others"]
    id: str
    """The trade's id; for an authority or others its name."""
    name: str


EVERYBODY = Audience("everybody", "everybody", "Everybody")


def parties(facts: PaperFacts, earlier: Iterable[PaperFacts] = ()) -> list[Audience]:
    """Return everybody, then each trade, authority and outside party with something in a plan, or in an earlier one.

    Whoever has nothing left to do still needs a calendar in which what was planned is called off.
    """
    trades: dict[str, Audience] = {}
    others: dict[str, Audience] = {}
    for plan in (facts, *earlier):
        busy = {a.trade for a in plan.plan.activities}
        trades |= {t.id: Audience("trade", t.id, facts.trade_said(t.id)) for t in plan.site.trades if t.id in busy}
        authorities = [v.authority for v in plan.plan.visits if v.authority]
        outside = [who for a in plan.plan.activities if not a.trade and not a.kind.is_look and (who := plan.who(a))]
        others |= {name: Audience("others", name, name) for name in (*authorities, *outside)}
    return [EVERYBODY, *trades.values(), *(others[name] for name in sorted(others))]


def everybody_named(site: Site) -> list[Audience]:
    """Return everybody, then each trade, authority and outside party that a site file names, whatever a plan has."""
    trades = [Audience("trade", t.id, t.name) for t in site.trades]
    others = sorted({*(i.authority for i in site.inspections), *(w.by for w in site.outside_work if not w.trade)})
    return [EVERYBODY, *trades, *(Audience("others", name, name) for name in others)]


def find_party(known: Iterable[Audience], wanted: str) -> Audience:
    """Return the party with this id or name; raises BadInput with those there are."""
    known = list(known)
    for party in known:
        if wanted == party.id or wanted.casefold() == party.name.casefold():
            return party
    near = nearest(wanted, [p.id for p in known])
    guess = f' (nearest: "{near}")' if near else ""
    named = "; ".join(p.id if p.id == p.name else f"{p.id} ({p.name})" for p in known)
    text = "is nobody with work or visits in this plan."
    raise BadInput([Finding("export/party", Severity.STOP, f'"{wanted}"', text, wanted, f"one of: {named}{guess}")])


def work_of(facts: PaperFacts, party: Audience) -> list[PlanActivity]:
    """Return the work a party does, without the inspectors' looks: those are made in visits."""
    return [a for a in facts.plan.activities if not a.kind.is_look and _does(facts, party, a)]


def visits_of(facts: PaperFacts, party: Audience) -> list[PlanVisit]:
    """Return the visits a party makes, or, for a trade, those that look at its work or that its work waits for."""
    return [v for v in facts.plan.visits if _attends(facts, party, v)]


def visits_made(facts: PaperFacts, party: Audience) -> list[tuple[PlanVisit, ...]]:
    """Return the same as people make them: all that one person looks at on one day is one visit."""
    return put_together(visits_of(facts, party))


def _does(facts: PaperFacts, party: Audience, activity: PlanActivity) -> bool:
    if party.kind == "everybody":
        return True
    if party.kind == "trade":
        return activity.trade == party.id
    return not activity.trade and facts.who(activity) == party.id


def _attends(facts: PaperFacts, party: Audience, visit: PlanVisit) -> bool:
    if party.kind == "trade":
        return party.id in trades_concerned(facts, visit.covers)
    return party.kind == "everybody" or visit.authority == party.id


def trades_concerned(facts: PaperFacts, holds: Iterable[str]) -> frozenset[str]:
    """Return the trades whose work is looked at for these hold points, or waits for them."""
    known = [facts.holds[h] for h in holds if h in facts.holds]
    waiting = {facts.work[g].trade for hold in known for g in hold.gates if g in facts.work}
    return frozenset(t for hold in known for t in facts.hold_trades(hold)) | (waiting - {""})
