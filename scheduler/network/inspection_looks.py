"""One inspection while its looks are made: the looks, their holds, and the visits they may share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from scheduler.network.kind import Kind
from scheduler.network.model import DateRole, DateRule, Hold, VisitRule
from scheduler.network.network_draft import SITE_FILE, Doing, NetworkDraft, Place
from scheduler.network.setting import INSPECTOR, Made, Setting
from scheduler.site.people import Inspection
from scheduler.spoken import count


def inspector_id(inspection: Inspection) -> str:
    """Return the id of the person who looks: an authority's inspectors by who releases."""
    who = inspection.released_by or ""
    return f"inspector/{inspection.authority}" + (f"/{who}" if who else "")


@dataclass(slots=True)
class Looker:
    """One inspection while its looks are being made."""

    setting: Setting
    draft: NetworkDraft
    made: Made
    inspection: Inspection
    lines: frozenset[str]
    calendar: str
    not_before: int
    scopes: dict[str, str] = field(default_factory=dict)
    """What each look made so far looks at: the tail of its id."""

    def look(self, scope: str, where: str, place: Place, *, lines: Iterable[str] = (), layer: int | None = None) -> str:
        """Make one look at `scope` (the tail of its id), which people call `where`."""
        inspection = self.inspection
        group = INSPECTOR if place.reach else ""
        id_ = self.draft.add(
            f"look/{inspection.id}/{scope}",
            f"{inspection.name}: {where}",
            Kind.INSPECT,
            inspection.look_minutes / 60.0,
            Doing("", ((inspector_id(inspection), 1),), self.calendar, group),
            because=f"{inspection.authority} looks at {where} before work goes on.",
            source=f"{SITE_FILE}: inspections",
            place=place,
            lines=lines,
            layer=layer,
            one_window=True,
        )
        if self.not_before > self.setting.data_date:
            self.draft.dates.append(
                DateRule(
                    f"notice/{id_}",
                    id_,
                    self.not_before,
                    role=DateRole.NOTICE,
                    because=f"{inspection.authority} asks for "
                    f"{count(inspection.notice_days, 'working day')} of notice.",
                    source=f"{SITE_FILE}: inspections, notice_days",
                )
            )
        self.scopes[id_] = scope
        self.made.looks.setdefault(inspection.id, []).append(id_)
        if place.reach:
            self.made.looks_at.setdefault((inspection.id, place.reach), []).append(id_)
        return id_

    def hold(self, look: str, gates: Sequence[str], expiring: Sequence[str]) -> None:
        """Make the hold point that a look releases; `expiring` are the gates a pass is good for only so long."""
        inspection, activity = self.inspection, self.draft.activities[look]
        self.draft.holds.append(
            Hold(
                id=f"hold/{inspection.id}/{self.scopes[look]}",
                kind=inspection.hold,
                name=activity.name,
                look=look,
                gates=tuple(dict.fromkeys(gates)),
                reaches=(activity.reach,) if activity.reach else (),
                lines=activity.lines,
                layer=activity.layer,
                released_by=inspection.released_by or "",
                criteria=inspection.criteria,
                because=f"Work that would hide it waits until {inspection.authority} has released it.",
                source=f"{SITE_FILE}: inspections",
            )
        )
        if inspection.pass_valid_days is None:
            return
        what = "the first lines" if inspection.stage == "open_trench" else "cover"
        for gate in dict.fromkeys(expiring):
            self.draft.link(
                look,
                gate,
                lag=int(inspection.pass_valid_days * 24 * 60 // self.setting.clock.tick_minutes),
                at_most=True,
                because=f"A pass is good for {inspection.pass_valid_days:g} days; {what} must follow by then.",
                source=f"{SITE_FILE}: inspections, pass_valid_days",
            )


def looker_of(setting: Setting, draft: NetworkDraft, made: Made, inspection: Inspection) -> Looker:
    """Return what makes the looks of one inspection."""
    lines = frozenset(
        line.id
        for line in setting.site.lines
        if (line.id in inspection.lines)
        or (line.kind in inspection.kinds)
        or (not inspection.lines and not inspection.kinds)
    )
    calendar = setting.hours.shared([inspection.calendar], in_trench=inspection.stage != "final")
    not_before = setting.hours.after_notice(calendar, setting.data_date, inspection.notice_days)
    return Looker(setting, draft, made, inspection, lines, calendar, not_before)


def add_visits(looker: Looker) -> None:
    """Let the looks of one inspection share visits."""
    inspection, looks = looker.inspection, looker.made.looks.get(looker.inspection.id, [])
    if not looks:
        return
    looker.draft.visit_rules.append(
        VisitRule(
            id=inspection.id,
            name=inspection.name,
            authority=inspection.authority,
            calendar=looker.calendar,
            looks=tuple(looks),
            look_ft={id_: a.to_ft - a.from_ft for id_ in looks if (a := looker.draft.activities[id_]).reach},
            max_looks=inspection.looks_per_visit,
            max_ft=inspection.feet_per_visit,
            fee=inspection.fee,
            because=f"{inspection.authority} sees in one visit what is ready in one of its windows.",
            source=f"{SITE_FILE}: inspections",
            wait_cost_per_hour=inspection.wait_cost_per_hour,
            person=inspector_id(inspection),
        )
    )
    if inspection.ready_hours > 0:
        _be_ready(looker, frozenset(looks))


def _be_ready(looker: Looker, looks: frozenset[str]) -> None:
    """Let the work that each look waits for be done some time before it."""
    inspection, draft = looker.inspection, looker.draft
    for link in list(draft.links.values()):
        if link.after in looks and not link.at_most and not draft.activities[link.before].kind.is_look:
            draft.link(
                link.before,
                link.after,
                lag=looker.setting.clock.ticks(hours=inspection.ready_hours),
                because=f"The work is done {inspection.ready_hours:g} h before {inspection.authority} looks at it.",
                source=f"{SITE_FILE}: inspections, ready_hours",
            )
