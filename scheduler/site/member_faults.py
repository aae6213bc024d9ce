"""Faults of the members of crews: skills that nobody has, and work that could never be done."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scheduler.site.crew_members import CrewMember, WorkNeeds
from scheduler.site.faults import Fault, Path, short
from scheduler.site.people import Trade
from scheduler.site.references import unknown_name
from scheduler.site.site_record import Site


def member_faults(site: Site) -> Iterator[Fault]:
    """Give the faults of each trade's members: a skill told twice, one that nobody has, more than there are."""
    for i, trade in enumerate(site.trades):
        yield from _of_trade(("trades", i), trade)


def _of_trade(at: Path, trade: Trade) -> Iterator[Fault]:
    yield from _twice((*at, "members"), trade.members)
    if trade.work_needs and not trade.members:
        text = "Work takes members of the crew, and none are given."
        yield Fault("site.missing", (*at, "work_needs"), text, required="members beside it")
        return
    yield from _needs((*at, "work_needs"), trade.work_needs, {m.skill: m.count for m in trade.members})


def _twice(at: Path, members: Sequence[CrewMember]) -> Iterator[Fault]:
    seen: set[str] = set()
    for i, member in enumerate(members):
        if member.skill in seen:
            text = f"'{short(member.skill)}' stands twice; give one count for it."
            yield Fault("site.twice", (*at, i, "skill"), text)
        seen.add(member.skill)


def _needs(at: Path, needs: Sequence[WorkNeeds], count: dict[str, int]) -> Iterator[Fault]:
    """Give the faults of whom work takes, of a crew with so many people of each skill."""
    said: set[str] = set()
    for i, need in enumerate(needs):
        for k, work in enumerate(need.work):
            if work in said:
                text = f"Whom '{work}' takes is said twice."
                yield Fault("site.twice", (*at, i, "work", k), text)
            said.add(work)
        yield from _twice((*at, i, "members"), need.members)
        for k, member in enumerate(need.members):
            place = (*at, i, "members", k)
            if member.skill not in count:
                yield unknown_name((*place, "skill"), member.skill, "member of this crew with the skill", count)
            elif member.count > count[member.skill]:
                text = f"This takes more of '{short(member.skill)}' than one crew has, so it could never be done."
                most = f"at most {count[member.skill]}"
                yield Fault("site.value", (*place, "count"), text, found=str(member.count), required=most)
