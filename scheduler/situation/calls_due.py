"""The calls to make at a moment: the difference between what everybody was told and what a plan says.

Who knows of the time that the plan wants needs no call. Everybody else is on the list until they have
agreed, whatever plan was accepted in between: who is to come and was never told, who knows another time,
and who is not needed any more.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, timedelta

from scheduler.ledger.rights import names
from scheduler.network.parties import Party
from scheduler.plan import Plan, PlanCall
from scheduler.situation.call_words import Asking, CallDue, moved_call, new_call, off_call, since
from scheduler.situation.comings import Coming, comings, next_coming, planned_work, stays
from scheduler.situation.facts_records import JobFacts
from scheduler.situation.notice import desk_of
from scheduler.situation.what_was_told import Arranged, WhatWasTold, arrangement, what_was_told


def calls_due(facts: JobFacts, plan: Plan) -> tuple[CallDue, ...]:
    """Return the calls to make so that everybody comes as a plan says, the most urgent first.

    `facts` are what the journal says at a moment of the job that the site file describes (`facts_at`);
    `plan` is the plan to work by.
    """
    return _calls(_asking(facts, plan))


def plan_calls(facts: JobFacts, plan: Plan) -> list[PlanCall]:
    """Return the calls to those who come and the ticket renewals as they stand in plan.json."""
    found = [c for c in calls_due(facts, plan) if c.kind != "release"]
    return [PlanCall(id=c.id, text=c.text, by=c.by, to=c.to, about=c.about) for c in found]


def calls_for_change(
    facts: JobFacts, plan: Plan, before: Plan, because: Mapping[str, str] | None = None
) -> tuple[CallDue, ...]:
    """Return the calls to make today if a plan takes the place of the one in force.

    These are all to those who know another time, and those whose notice runs out today. Who was to come by
    the plan `before` within their notice, or on this day, is taken to expect it, though no call is on record.
    `because` says why the appointment of an activity cannot be kept.
    """
    asking = _asking(facts, plan)
    asking = replace(asking, told=_with_expected(asking, before), because=because or {})
    today = asking.network.clock.when(asking.now).date()
    return tuple(c for c in _calls(asking) if c.was is not None or c.by.date() <= today)


def _asking(facts: JobFacts, plan: Plan) -> Asking:
    site, network = facts.site, facts.network
    told = what_was_told(site, network, facts.state)
    return Asking(site, network, facts, told, planned_work(network, plan), plan, desk_of(site, network.clock))


def _calls(asking: Asking) -> tuple[CallDue, ...]:
    found = [c for p in asking.told.parties for c in (_trade(asking, p) if p.trade else _party(asking, p))]
    found += [*_releases(asking), *_renewals(asking)]
    return tuple(sorted(found, key=lambda c: (c.by, c.id)))


def _with_expected(asking: Asking, before: Plan) -> WhatWasTold:
    """Return what was told with what the plan before lets people expect."""
    told, network, now = asking.told, asking.network, asking.now
    rows = planned_work(network, before)
    left = frozenset(r.id for r in rows) - set(asking.facts.done) - set(asking.facts.begun)
    tomorrow = network.clock.midnight(network.clock.when(now).date() + timedelta(days=1))
    more: list[Arranged] = []
    for party in told.parties:
        until = max(asking.floor(party), tomorrow)
        if (taken := asking.facts.state.taken_over.get(party.of)) is not None and before.data_date < taken.when:
            continue  # that plan was the firm's before
        if not party.trade:
            found = [c for c in comings(network, party, rows, left, now) if c.start < until]
        elif any(a.of == party.of and a.until > now for a in told.arranged):
            continue
        else:
            coming = next_coming(network, party, rows, left, now)
            after = next_coming(network, party, asking.rows, asking.left, now)
            soon = coming and (coming.start < until or (after is not None and after.start < until))
            found = [coming] if coming is not None and soon else []
        for coming in found:
            names_it = [a for a in coming.activities if (w := told.named(party.of, a)) is None or w.until <= now]
            if names_it and not any(w.holds(coming.start) for w in told.open_ones(party.of)):
                at = network.clock.when(coming.start)
                id_ = f"expected/{party.of}/{party.day_key(at)}"
                more.append(arrangement(network.clock, id_, party, coming.start, at, tuple(names_it), "expected"))
    return replace(told, arranged=(*told.arranged, *more))


def _party(asking: Asking, party: Party) -> Iterator[CallDue]:
    """Yield the calls to an inspector's office, or about outside work."""
    wanted = comings(asking.network, party, asking.rows, asking.left, asking.now)
    starts = {r.id: r.span[0] for r in asking.rows}
    moved: dict[tuple[str, int], tuple[Arranged, list[str]]] = {}
    unknown: list[Coming] = []
    used: set[str] = set()
    for coming in wanted:
        new = []
        for activity in coming.activities:
            word = _standing(asking, party, activity)
            if word is None and (word := _open_word(asking, party, starts[activity])) is None:
                new.append(activity)
                continue
            used.add(word.id)
            if not word.holds(starts[activity]):
                moved.setdefault((word.id, coming.start), (word, []))[1].append(activity)
            elif word.how == "expected":
                new.append(activity)
        if new:
            unknown.append(Coming(party.of, min(starts[a] for a in new), tuple(new)))
    split: set[str] = set()
    for word, activities in moved.values():
        coming = Coming(party.of, min(starts[a] for a in activities), tuple(activities))
        due, day = moved_call(asking, party, word, coming), party.day_key(asking.network.clock.when(coming.start))
        yield replace(due, id=f"{due.id}/{day}") if word.id in split else due
        split.add(word.id)
    for word in _unused(asking, party, used):
        if word.activities or not unknown:
            yield off_call(asking, party, word)
            continue
        nearest = _nearest(unknown, word.first)
        unknown.remove(nearest)
        yield moved_call(asking, party, word, nearest)
    for coming in unknown:
        yield new_call(asking, party, coming)


def _standing(asking: Asking, party: Party, activity: str) -> Arranged | None:
    """Return the last word to a party on a piece of work, if its time has not passed and nothing came of it yet."""
    word = asking.told.named(party.of, activity)
    if word is None or (word.until <= asking.now and word.how != "expected"):
        return None
    looked = [e.when for e in asking.facts.state.looks.get(activity, ())]
    return None if any(asking.network.clock.tick(t) >= word.first for t in looked) else word


def _open_word(asking: Asking, party: Party, start: int) -> Arranged | None:
    """Return an appointment in whose time work falls, where it was not said what it is for."""
    return next((w for w in asking.told.open_ones(party.of) if w.holds(start) and w.until > asking.now), None)


def _nearest(comings_: list[Coming], tick: int) -> Coming:
    return min(comings_, key=lambda c: (abs(c.start - tick), c.start))


def _unused(asking: Asking, party: Party, used: set[str]) -> Iterator[Arranged]:
    """Yield the appointments still to come that no work of the plan is for, unless the plan has fallen behind."""
    late = {r.id for r in asking.rows if r.id in asking.left and r.span[0] < asking.now}
    for word in asking.told.arranged:
        if word.of != party.of or word.id in used or word.until <= asking.now:
            continue
        if not late & set(word.activities or party.activities):
            yield word


def _trade(asking: Asking, party: Party) -> Iterator[CallDue]:
    """Yield the calls to a trade: it knows when it is to come, and works there at whatever is planned."""
    stay = next(t.stay_days for t in asking.site.trades if t.id == party.of)
    rows = asking.rows_of(party)
    first_days = stays(asking.network, party, rows, asking.left, asking.now, stay)
    coming = next_coming(asking.network, party, rows, asking.left, asking.now)
    words = [a for a in asking.told.arranged if a.of == party.of and _still_known(asking, a)]
    recorded = {w.first for w in words if w.how != "expected"}
    new = [c for c in first_days if c.start not in recorded]
    on_site = coming is not None and coming not in first_days
    there, told = _on_site_anyway(asking, party, first_days), list[Coming]()
    for word in words:
        day = asking.network.clock.when(word.first).date()
        if word.how != "expected":
            if word.first in {c.start for c in first_days} or day in there:
                continue
            same_day = [c for c in new if asking.network.clock.when(c.start).date() == day]
            target = next(iter(same_day or new), None)
        elif coming is not None and _as_expected(asking, party, word, coming, on_site=on_site):
            continue
        else:
            target = coming if coming is not None and (on_site or coming in new) else next(iter(new), None)
        if target is None:
            yield off_call(asking, party, word)
            continue
        if target in told:
            continue
        told.append(target)
        new = [c for c in new if c != target]
        yield moved_call(asking, party, word, target, on_site=on_site and target == coming)
    for day_one in new if party.notice_days else ():
        yield new_call(asking, party, day_one, again=any(r.span[0] < day_one.start for r in rows))


def _on_site_anyway(asking: Asking, party: Party, first_days: list[Coming]) -> set[date]:
    """Return the days on which a trade begins something while it is on site already."""
    clock, now = asking.network.clock, asking.now
    begun = (r.span[0] for r in asking.rows if r.trade == party.of and r.id in asking.left and r.span[0] >= now)
    return {clock.when(t).date() for t in begun} - {clock.when(c.start).date() for c in first_days}


def _still_known(asking: Asking, word: Arranged) -> bool:
    """Tell whether a trade still goes by what it knows: until then, or until somebody tells it of another time."""
    return word.until > asking.now or (word.how == "expected" and bool(asking.left & set(word.activities)))


def _as_expected(asking: Asking, party: Party, word: Arranged, coming: Coming, *, on_site: bool) -> bool:
    """Tell whether a trade comes when a plan let it expect to; one on site already hears of hours there.

    To come sooner on the day it hears of only where it is at work on a day before that is still to come.
    """
    clock = asking.network.clock
    day = clock.when(coming.start).date()
    if word.first == coming.start or not on_site or clock.when(word.first).date() != day:
        return word.first == coming.start
    dawn = clock.midnight(day)
    there = any(r.trade == party.of and r.span[0] < dawn and r.span[1] > asking.now for r in asking.rows)
    return coming.start > word.first or there


def _releases(asking: Asking) -> Iterator[CallDue]:
    """Yield whom to ask for the release of what has passed."""
    facts, starts = asking.facts, {a.id: a.start for a in asking.plan.activities}
    for point in facts.unreleased.values():
        open_ = [g for g in point.hold.gates if g in starts and g not in facts.done]
        if not open_:
            continue
        first = min(open_, key=lambda g: starts[g])
        who = names(point.releasers)
        name = next((a.name for a in asking.plan.activities if a.id == first), first)
        text = f"Ask {who} to release: {point.hold.name}. {name} waits for it."
        local = asking.network.clock.when(0).tzinfo
        by = starts[first].astimezone(local)
        person = point.releasers[0].name if point.releasers else who
        phone = point.releasers[0].phone if point.releasers else ""
        yield CallDue(
            f"release/{point.hold.id}", "release", point.hold.id, who, person, phone, point.hold.name, None, None,
            by, since(asking, by), False, text, "", tuple(open_),
        )  # fmt: skip


def _renewals(asking: Asking) -> Iterator[CallDue]:
    """Yield the renewals that the plan needs and nobody has asked for, while digging is left to do."""
    asked = {a for c in asking.told.calls if c.answer == "agreed" for a in c.activities}
    for ticket in asking.network.tickets:
        for renewal in ticket.renewals:
            if renewal.id in asking.plan.renewals and renewal.id not in asked and asking.left & set(ticket.digs):
                by = asking.network.clock.when(renewal.call_by)
                text = f"Renew {ticket.name}: without it the digging still to come is not allowed."
                yield CallDue(
                    f"call/{renewal.id}", "renewal", ticket.id, "the one-call centre", "the one-call centre", "",
                    ticket.name, None, None, by, since(asking, by), False, text, "", (renewal.id,),
                )  # fmt: skip
