"""Crews that split: each kind of work takes certain members of a crew, and another kind may go on beside it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from scheduler.findings import Finding, Severity
from scheduler.network.model import Note, Resource, ResourceKind
from scheduler.network.network_draft import SITE_FILE, NetworkDraft
from scheduler.network.setting import Setting, crew_id, member_id
from scheduler.site.people import Trade
from scheduler.spoken import count


def build_members(setting: Setting, draft: NetworkDraft) -> None:
    """Let work of a trade whose members are given take those of them that its kind needs, in place of a whole crew.

    Work whose needs are not said takes every member of one crew. The crew itself stays among the needs with no units:
    it is at work, and its day is paid for.
    """
    for trade in (t for t in setting.site.trades if t.members):
        whole = {m.skill: m.count for m in trade.members}
        by_kind: dict[str, dict[str, int]] = {
            work: {m.skill: m.count for m in need.members} for need in trade.work_needs for work in need.work
        }
        unsaid: dict[str, None] = {}
        taken: set[str] = set()
        for id_, activity in draft.activities.items():
            needs = dict(activity.needs)
            if not (crews := needs.get(crew_id(trade.id), 0)):
                continue
            if activity.kind.value not in by_kind:
                unsaid[activity.kind.value] = None
            needs[crew_id(trade.id)] = 0
            for skill, people in by_kind.get(activity.kind.value, whole).items():
                taken.add(skill)
                needs[member_id(trade.id, skill)] = crews * people
            draft.activities[id_] = replace(activity, needs=tuple(needs.items()))
        if unsaid:
            draft.notes.append(_whole_crew(trade, list(unsaid)))
        if idle := [m.skill for m in trade.members if m.skill not in taken]:
            draft.notes.append(_taken_by_nothing(trade, idle))


def member_resources(trade: Trade) -> Iterator[Resource]:
    """Yield the members of all crews of a trade, by skill; what they cost is in the price of their crew."""
    for member in trade.members:
        people = count(member.count, member.skill.replace("_", " "))
        crews = f" in each of its {trade.crews} crews" if trade.crews > 1 else ""
        yield Resource(
            member_id(trade.id, member.skill),
            f"{trade.name}, {member.skill.replace('_', ' ')}",
            ResourceKind.MEMBER,
            trade.crews * member.count,
            because=f"{trade.name} has {people}{crews}.",
            source=f"{SITE_FILE}: trades, members",
        )


def _whole_crew(trade: Trade, kinds: list[str]) -> Note:
    return Note(
        Finding(
            rule="whole-crew",
            severity=Severity.NOTE,
            where=trade.name,
            text=f"Whom of its crew some work takes is not said, so it takes all of them: {', '.join(kinds)}.",
            source=f"{SITE_FILE}: trades, work_needs",
            remedy=f"Name these kinds under `work_needs` of {trade.id}, or leave them: the whole crew then does them.",
        )
    )


def _taken_by_nothing(trade: Trade, skills: list[str]) -> Note:
    return Note(
        Finding(
            rule="member-idle",
            severity=Severity.NOTE,
            where=trade.name,
            text=f"No work here takes them, so they bind no date: {', '.join(s.replace('_', ' ') for s in skills)}.",
            source=f"{SITE_FILE}: trades, members",
            remedy=f"Name them under `work_needs` of {trade.id}, or remove them.",
        )
    )
