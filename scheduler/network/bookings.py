"""Appointments already made, resolved to the activities they are for."""

from __future__ import annotations

from scheduler.network.model import Booking, DateRole
from scheduler.network.network_draft import SITE_FILE, NetworkDraft
from scheduler.network.outside import outside_id
from scheduler.network.parties import within_half
from scheduler.network.setting import Made, Setting
from scheduler.site.people import BookingSpec, Inspection, OutsideWork
from scheduler.worktime.calendar import Window


def build_bookings(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Make the bookings; one inside the notice of its party can no longer move."""
    inspections = {i.id: i for i in setting.site.inspections}
    for spec in setting.site.bookings:
        at = setting.clock.tick(spec.start)
        inspection = inspections.get(spec.of)
        if inspection is None:
            _book(setting, draft, spec, setting.outside[spec.of], [outside_id(spec.of)], (at, at + 1))
        elif looks := _looks(made, spec, inspection):
            window = setting.hours.named[draft.activities[looks[0]].calendar].window_at(at)
            if window and inspection.half_days:
                window = within_half(setting.clock, at, window)
            _book(setting, draft, spec, inspection, looks, (at, window[1] if window else at + 1))


def _looks(made: Made, spec: BookingSpec, inspection: Inspection) -> list[str]:
    """Return the looks a booked visit is for: the first that each reach asked for can have."""
    if spec.reaches:
        return [found[0] for r in spec.reaches if (found := made.looks_at.get((inspection.id, r)))]
    at_reach = [found[0] for (i, _), found in made.looks_at.items() if i == inspection.id]
    return at_reach or made.looks.get(inspection.id, [])[:1]


def _book(
    setting: Setting,
    draft: NetworkDraft,
    spec: BookingSpec,
    of: Inspection | OutsideWork,
    activities: list[str],
    when: Window,
) -> None:
    by_half = isinstance(of, Inspection) and of.half_days
    date = setting.clock.spoken_half(when[0]) if by_half else setting.clock.spoken(when[0])
    inside = when[0] < setting.hours.after_notice(of.calendar, setting.data_date, of.notice_days)
    given = f"{of.name} is booked for {date}"
    if inside and not spec.firm:
        given += f"; that is inside its notice of {of.notice_days} working days, so it cannot move"
    draft.bookings.append(
        Booking(
            id=spec.id,
            name=f"{of.name}, {date}",
            activities=tuple(activities),
            at=when[0],
            until=when[1],
            firm=spec.firm or inside,
            move_cost=spec.move_cost,
            because=f"{given}.",
            source=f"{SITE_FILE}: bookings",
        )
    )
    if inside:
        draft.dates[:] = [d for d in draft.dates if d.role is not DateRole.NOTICE or d.activity not in activities]
