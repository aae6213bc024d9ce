"""Appointments already made, resolved to the activities they are for."""

from __future__ import annotations

from scheduler.network.draft import SITE_FILE, Draft
from scheduler.network.model import Booking
from scheduler.network.outside import outside_id
from scheduler.network.setting import Made, Setting
from scheduler.site.people import BookingSpec, Inspection


def build_bookings(setting: Setting, draft: Draft, made: Made) -> None:
    """Make the bookings; one inside the notice of its party can no longer move."""
    inspections = {i.id: i for i in setting.site.inspections}
    for spec in setting.site.bookings:
        inspection = inspections.get(spec.of)
        if inspection:
            _visit(setting, draft, made, spec, inspection)
        else:
            work = setting.outside[spec.of]
            at = setting.clock.tick(spec.start)
            calendar, days = work.calendar, work.notice_days
            _book(setting, draft, spec, [outside_id(work.id)], at, at + 1, work.name, calendar, days)


def _visit(setting: Setting, draft: Draft, made: Made, spec: BookingSpec, inspection: Inspection) -> None:
    """Book the looks of an inspection: the first that each reach asked for can have."""
    if spec.reaches:
        looks = [found[0] for r in spec.reaches if (found := made.looks_at.get((inspection.id, r)))]
    else:
        at_reach = [found[0] for (i, _), found in made.looks_at.items() if i == inspection.id]
        looks = at_reach or made.looks.get(inspection.id, [])[:1]
    if not looks:
        return
    at = setting.clock.tick(spec.start)
    window = setting.hours.named[draft.activities[looks[0]].calendar].window_at(at)
    until = window[1] if window else at + 1
    _book(setting, draft, spec, looks, at, until, inspection.name, inspection.calendar, inspection.notice_days)


def _book(
    setting: Setting,
    draft: Draft,
    spec: BookingSpec,
    activities: list[str],
    at: int,
    until: int,
    name: str,
    calendar: str,
    notice_days: int,
) -> None:
    when = setting.clock.when(at)
    given = f"{name} is booked for {when:%a %d %b %H:%M}"
    inside = at < setting.hours.after_notice(calendar, setting.data_date, notice_days)
    if inside and not spec.firm:
        given += f"; that is inside its notice of {notice_days} working days, so it cannot move"
    draft.bookings.append(
        Booking(
            id=spec.id,
            name=f"{name}, {when:%a %d %b %H:%M}",
            activities=tuple(activities),
            at=at,
            until=until,
            firm=spec.firm or inside,
            move_cost=spec.move_cost,
            because=f"{given}.",
            source=f"{SITE_FILE}: bookings",
        )
    )
    if inside:
        booked = set(activities)
        draft.dates[:] = [d for d in draft.dates if not (d.activity in booked and d.id == f"notice/{d.activity}")]
