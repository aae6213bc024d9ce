"""Bedding and laying that begin while the dig of the same reach goes on, at the distance that the site file chooses."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.findings import Finding, Severity
from scheduler.network.kept_behind import KeptBehind
from scheduler.network.kind import Kind
from scheduler.network.model import Note
from scheduler.network.network_draft import SITE_FILE, NetworkDraft
from scheduler.network.setting import LayGroup, Made, ReachWork, Setting
from scheduler.site.ground import Reach
from scheduler.units import TOUCH_FT, format_feet

WHOLE = "What follows waits until all of the stretch is ready for it."


def build_lay_behind(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Let bedding and laying follow the dig at a distance, where people, hours and the trench allow it.

    What waited for the dig, or the bedding, as a whole then keeps behind it; everything after that waits for both.
    """
    apart = setting.site.limits.lay_behind_ft
    if apart is None:
        return
    kept: dict[str, list[Reach]] = {}
    for reach in setting.site.reaches:
        why_not = _behind_the_dig(setting, draft, made.reaches[reach.id], reach, apart)
        if why_not:
            kept.setdefault(why_not, []).append(reach)
    if kept:
        draft.notes.append(_not_behind(kept))


def _behind_the_dig(setting: Setting, draft: NetworkDraft, work: ReachWork, reach: Reach, apart: float) -> str:
    """Let what can follow the dig of a reach do so; return why nothing can, '' where something does."""
    dig, bed = work.digs[-1], f"{reach.id}/bed"
    if f"{reach.id}/protect" in draft.activities:
        return "shields or pumps are set first"
    if reach.to - reach.from_ <= apart + TOUCH_FT:
        return f"no longer than {format_feet(apart)}"
    first = [bed] if bed in draft.activities else list(_laid_along(setting, draft, work, reach, dig))
    if not first:
        return "nothing is bedded or laid along all of it"
    if busy := [why for after in first if (why := _in_the_way(draft, dig, after))]:
        return busy[0]
    for after in first:
        _follow(setting, draft, reach, dig, after)
    for lay in _laid_along(setting, draft, work, reach, bed) if first == [bed] else ():
        own = draft.activities[lay].trade == draft.activities[bed].trade
        if own and not _in_the_way(draft, bed, lay) and not _in_the_way(draft, dig, lay):
            _follow(setting, draft, reach, bed, lay)
            _follow(setting, draft, reach, dig, lay)
    return ""


def _laid_along(setting: Setting, draft: NetworkDraft, work: ReachWork, reach: Reach, before: str) -> Iterator[str]:
    """Yield the laying of each line that lies along all of a reach and waits for nothing but `before` there."""
    for group in work.groups:
        for line, lay in group.lays.items():
            direct = f"{before} > {lay}" in draft.links
            if direct and _feet(setting, group, line) >= reach.to - reach.from_ - TOUCH_FT:
                yield lay


def _feet(setting: Setting, group: LayGroup, line: str) -> float:
    loose = [p for p in group.loose if line in setting.loose_lines(p)]
    return setting.ground.feet(line, [*group.pieces, *loose])


def _in_the_way(draft: NetworkDraft, before: str, after: str) -> str:
    """Return why two pieces of work cannot go on at once: too few people, or other hours; '' where they can."""
    one, two = draft.activities[before], draft.activities[after]
    count = {r.id: r.capacity for r in draft.resources}
    needs = dict(one.needs)
    for resource, units in two.needs:
        if units + needs.get(resource, 0) > count[resource] and units and needs.get(resource, 0):
            name = next(r.name for r in draft.resources if r.id == resource)
            return f"{name} would be needed twice"
    if not draft.calendars[two.calendar].within(draft.calendars[one.calendar]):
        return "the hours of what follows are not within those of the dig"
    return ""


def _follow(setting: Setting, draft: NetworkDraft, reach: Reach, before: str, after: str) -> None:
    """Let one piece of work keep behind another, and what follows the first of them wait for both."""
    length, apart = reach.to - reach.from_, setting.site.limits.lay_behind_ft or 0.0
    draft.links.pop(f"{before} > {after}", None)
    for link in [k for k in draft.links.values() if k.before == after and not k.at_most]:
        draft.link(before, link.after, because=WHOLE)
    dug = draft.activities[before].kind is Kind.DIG
    swing = format_feet(setting.site.limits.swing_ft)
    said = f", as nobody is within {swing} of the machine while it digs" if dug else ""
    draft.kept_behind.append(
        KeptBehind(
            f"behind/{before} > {after}",
            before,
            after,
            length,
            apart,
            because=f"It follows along the stretch and keeps {format_feet(apart)} behind{said}.",
            source=f"{SITE_FILE}: limits, lay_behind_ft" + ("; 29 CFR 1926.651(e)" if dug else ""),
        )
    )


def _not_behind(kept: dict[str, list[Reach]]) -> Note:
    told = "; ".join(f"{', '.join(r.id for r in reaches)}: {why}" for why, reaches in kept.items())
    return Note(
        Finding(
            rule="not-behind-the-dig",
            severity=Severity.NOTE,
            where="Work behind the dig",
            text=f"Here bedding and laying wait until the dig is done. {told}.",
            source=f"{SITE_FILE}: limits, lay_behind_ft",
            remedy="Longer reaches, a shorter distance, or `members` of the crew that digs, so that others can follow.",
        ),
        tuple(r.id for reaches in kept.values() for r in reaches),
    )
