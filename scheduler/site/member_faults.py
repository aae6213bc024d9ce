"""Faults of the members of crews: skills that nobody has, and work that could never be done."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from scheduler.site.crew_members import WorkNeeds
from scheduler.site.faults import Fault, Path, short
from scheduler.site.people import Trade
from scheduler.site.references import unknown_name
from scheduler.site.site_record import Site


def member_faults(site: Site) -> Iterator[Fault]:
    """Give the faults of each trade's members: a skill told twice, one that nobody has, more than there are."""
    for i, trade in enumerate(site.trades):
        yield from _of_trade(("trades", i), trade)


def _of_trade(at: Path, trade: Trade) -> Iterator[Fault]:
    members, needs = trade.members, trade.work_needs
    count: dict[str, int] = {}
    for i, member in enumerate(members):
        if member.skill in count:
            text = f"'{short(member.skill)}' stands twice; give one count for it."
            yield Fault("site.twice", (*at, "members", i, "skill"), text)
        count.setdefault(member.skill, member.count)
    if needs and not members:
        text = "Work takes members of the crew, and none are given."
        yield Fault("site.missing", (*at, "work_needs"), text, required="members beside it")
        return
    yield from _needs(at, needs, count)


def _needs(at: Path, needs: Sequence[WorkNeeds], count: dict[str, int]) -> Iterator[Fault]:
    """Give the faults of whom work takes, of a crew with so many people of each skill."""
    said: set[str] = set()
    for i, need in enumerate(needs):
        for k, work in enumerate(need.work):
            if work in said:
                text = f"Whom '{work}' takes is said twice."
                yield Fault("site.twice", (*at, "work_needs", i, "work", k), text)
            said.add(work)
        taken: Counter[str] = Counter()
        for k, skill in enumerate(need.members):
            place = (*at, "work_needs", i, "members", k)
            taken[skill] += 1
            if skill not in count:
                yield unknown_name(place, skill, "member of this crew with the skill", count)
            elif taken[skill] == count[skill] + 1:
                text = f"This takes more of '{short(skill)}' than one crew has, so it could never be done."
                found, required = f"{need.members.count(skill)} of them", f"at most {count[skill]}"
                yield Fault("site.value", place, text, found=found, required=required)
