"""Who gave word of coming late, about which work, and which word counts: the last, of whoever does the work now."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from scheduler.ledger.call_events import Called
from scheduler.ledger.events import Delayed
from scheduler.ledger.rights import names
from scheduler.ledger.state import delay_of
from scheduler.ledger.trade_events import TakenOver
from scheduler.network.hours import after_notice
from scheduler.network.model import Network
from scheduler.network.parties import Party, parties_of
from scheduler.site.calendars import build_calendars
from scheduler.site.site_record import Site


def last_words(
    site: Site,
    network: Network,
    words: Iterable[Delayed | Called | TakenOver],
    parties: tuple[Party, ...] | None = None,
    begun: Collection[str] = (),
) -> dict[str, Delayed]:
    """Return, for each activity that somebody gave word of being late for, their last word on it.

    A no on the telephone is such a word; who agrees to come sooner takes it back for that work. A trade's no binds
    its other work too, that is not in `begun` (ids of activities): see `_Spoken.no_of_trade`. A firm that takes a
    trade's work over gives word of its first day: what that trade said before counts no longer.
    """
    taken: dict[str, TakenOver] = {}
    spoken = _Spoken(network, begun)
    parties = parties_of(site, network) if parties is None else parties
    for heard in words:
        if isinstance(heard, TakenOver):
            taken[heard.trade] = heard
            spoken.agreed = {a: t for a, t in spoken.agreed.items() if network.by_id[a].trade != heard.trade}
            word: Delayed | None = first_day(site, network, heard)
        else:
            word = heard if isinstance(heard, Delayed) else delay_of(heard)
        if word is not None:
            spoken.late(delayed_work(site, network, parties, word, taken), word)
        if isinstance(heard, Called) and heard.answer == "refused" and word is not None:
            spoken.no_of_trade(heard, word)
        elif isinstance(heard, Called) and heard.answer == "agreed":
            spoken.yes(heard)
    return spoken.last


@dataclass
class _Spoken:
    """What was said so far of when people come, while the words are read in order."""

    network: Network
    begun: Collection[str]
    last: dict[str, Delayed] = field(default_factory=dict)
    agreed: dict[str, datetime] = field(default_factory=dict)
    """By activity: when its people agreed to come for it."""
    other: dict[str, Called] = field(default_factory=dict)
    """By activity whose last word is a no of its trade to other work: the call with that no."""

    def late(self, activities: Iterable[str], word: Delayed) -> None:
        """Take in that nobody comes for some activities before a moment."""
        for activity in activities:
            self.last[activity] = word
            self.agreed.pop(activity, None)
            self.other.pop(activity, None)

    def no_of_trade(self, call: Called, word: Delayed) -> None:
        """Take in that a trade which said no comes for none of its other work before the moment it offers either.

        That leaves alone what is begun, what it agreed to come for before the time that it was asked for, and what
        it cannot come for until later still. Somebody who is no trade was asked about one appointment alone.
        """
        assert call.told_start is not None
        for activity in self.network.activities:
            id_, known = activity.id, self.last.get(activity.id)
            if activity.trade != call.of or id_ in call.activities or not activity.work or activity.begun_part_of:
                continue
            if id_ in self.begun or (id_ in self.agreed and self.agreed[id_] < call.told_start):
                continue
            if known is None or known.not_before < word.not_before:
                self.late([id_], word.model_copy(update={"about": ()}))
                self.other[id_] = call

    def yes(self, call: Called) -> None:
        """Take in that somebody agreed to come; a trade that comes sooner than its no said comes for its other work."""
        start = call.told_start
        for activity in call.activities:
            if start is None:
                self.agreed.pop(activity, None)
            elif activity in self.network.by_id:
                self.agreed[activity] = start
        if start is None:
            return
        again = [a for a, no in self.other.items() if no.of == call.of and no.told_start and no.told_start <= start]
        for activity in {*again, *call.activities}:
            if activity in self.last and start < self.last[activity].not_before:
                del self.last[activity]
                self.other.pop(activity, None)


def first_day(site: Site, network: Network, taken: TakenOver) -> Delayed:
    """Return from when on a firm that takes a trade's work over can come, as word of a delay of that trade's work."""
    trade = next((t for t in site.trades if t.id == taken.trade), None)
    at = taken.since
    if trade is not None and taken.notice_days:
        hours, agreed = build_calendars(site, network.clock)[trade.calendar], network.clock.tick(taken.when, up=True)
        tick = after_notice(network.clock, hours, agreed, taken.notice_days)
        at = max(at, network.clock.when(network.horizon if tick is None else tick))
    told = f"it does the work of {trade.name if trade else taken.trade} from then on"
    about = tuple(a.id for a in network.activities if a.trade == taken.trade and a.work and not a.begun_part_of)
    return Delayed(who=taken.firm, not_before=at, about=about, why=f"{told}; {taken.why}" if taken.why else told)


def delayed_work(
    site: Site, network: Network, parties: tuple[Party, ...], word: Delayed, taken: Mapping[str, TakenOver]
) -> list[str]:
    """Return the activities that a notice of delay is about; `taken`: the firms that took a trade over, by trade."""
    if word.about:
        return [a for a in word.about if a in network.by_id]
    return _of(site, network, parties, word.who, taken)


def named(site: Site, who: str) -> str:
    """Return a person's name and firm, a trade's, authority's or firm's name, or the words used."""
    person = next((p for p in site.people if p.id == who), None)
    if person is not None:
        return names([person])
    firms = {t.id: t.name for t in site.trades} | {i.id: i.authority for i in site.inspections}
    return (firms | {w.id: w.by for w in site.outside_work}).get(who, who)


def _of(site: Site, network: Network, parties: Iterable[Party], who: str, taken: Mapping[str, TakenOver]) -> list[str]:
    """Return the activities of a person, firm or trade."""
    wanted = {who.casefold()}
    for person in site.people:
        if wanted & {person.id.casefold(), person.name.casefold()} and person.of:
            wanted.add(person.of.casefold())
    trades = {
        t.id for t in site.trades if wanted & {t.id.casefold(), t.name.casefold(), (t.contact or t.id).casefold()}
    }
    trades |= {t for t, over in taken.items() if over.firm.casefold() in wanted}
    theirs = {a for p in parties if wanted & {p.who.casefold(), p.of.casefold()} for a in p.activities}
    return [
        a.id for a in network.activities if (a.id in theirs or a.trade in trades) and a.work and not a.begun_part_of
    ]
