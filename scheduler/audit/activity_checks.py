"""Checks of one activity at a time: is it there, in working hours, within its dates."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scheduler.audit.audit_facts import SAID, AuditCheck, AuditFacts, broken
from scheduler.findings import Finding
from scheduler.network.model import Activity, DateRule
from scheduler.schedule import Span
from scheduler.worktime.calendar import Calendar


def presence(facts: AuditFacts) -> Iterator[Finding]:
    """Every activity has dates, and every date belongs to an activity."""
    for a in facts.network.activities:
        if a.id not in facts.spans:
            yield broken(
                f"missing/{a.id}",
                facts.place(a.id),
                f'"{a.name}" has no dates.',
                found="no start and no finish",
                required="a start and a finish for every activity",
                remedy="Give it dates.",
            )
    for key, span in facts.schedule.dates.items():
        if key not in facts.network.by_id:
            yield broken(
                f"unknown/{key}",
                str(key),
                f'"{key}" has dates but is no activity of this job.',
                found=facts.span(span),
                required="dates of this job's activities only",
                remedy="Remove it, or fix its id.",
            )


def working_time(facts: AuditFacts) -> Iterator[Finding]:
    """Every activity starts in open hours, takes exactly its work, and stays in one window if it must."""
    for activity_id, span in facts.spans.items():
        activity = facts.network.by_id[activity_id]
        calendar = facts.network.calendars[activity.calendar]
        start, finish = span
        if finish < start:
            yield _reversed(facts, activity, span)
            continue
        window = calendar.window_at(start)
        if activity.work > 0 and window is None:
            yield _closed(facts, activity, span, calendar)
            if finish - start == activity.work:
                continue  # its length is right; the closed hours say it all
        due = calendar.advance(start, activity.work)
        if due != finish:
            yield _wrong_length(facts, activity, span, calendar, due)
        elif activity.one_window and window is not None and finish > window[1]:
            yield _split(facts, activity, span, window)
        elif window is not None and window[1] < min(finish, start + activity.least_start):
            yield _barely_begun(facts, activity, span, window)


def _reversed(facts: AuditFacts, activity: Activity, span: Span) -> Finding:
    return broken(
        f"work/{activity.id}",
        facts.place(activity.id),
        f'"{activity.name}" finishes before it starts.',
        found=f"start {facts.when(span[0])}, finish {facts.when(span[1])}",
        required="a finish after the start",
        remedy="Fix the two dates.",
    )


def _closed(facts: AuditFacts, activity: Activity, span: Span, calendar: Calendar) -> Finding:
    opens = calendar.next_open(span[0])
    after = f"next {facts.when(opens)}" if opens is not None else "of which none are left"
    return broken(
        f"calendar/{activity.id}",
        facts.place(activity.id),
        f'"{activity.name}" starts outside its working hours ({facts.calendar_name(activity.calendar)}).',
        found=facts.when(span[0]),
        required=f"a start inside those hours, {after}",
        source=activity.source,
        remedy="Move it into those hours, or agree other hours with whoever does it.",
    )


def _wrong_length(facts: AuditFacts, activity: Activity, span: Span, calendar: Calendar, due: int | None) -> Finding:
    hours = facts.calendar_name(activity.calendar)
    worked = calendar.open_ticks(*span)
    wrong = "is given less than" if worked < activity.work else "finishes later than"
    return broken(
        f"work/{activity.id}",
        facts.place(activity.id),
        f'"{activity.name}" {wrong} its work takes in its working hours ({hours}).',
        found=f"{facts.hours(worked)} of working hours, finish {facts.when(span[1])}",
        required=f"{facts.hours(activity.work)} of work, finish "
        + (facts.when(due) if due is not None else "past the end of its calendar"),
        source=activity.source,
        remedy=f"Set its finish to {facts.when(due)}." if due is not None else "Start it earlier.",
    )


def _split(facts: AuditFacts, activity: Activity, span: Span, window: Span) -> Finding:
    return broken(
        f"one window/{activity.id}",
        facts.place(activity.id),
        f'"{activity.name}" is broken off at {facts.when(window[1])} and carried on later; it must be done in one go.',
        found=facts.span(span),
        required=f"all {facts.hours(activity.work)} without a break, in one stretch of "
        f"{facts.calendar_name(activity.calendar)}",
        source=activity.source,
        remedy="Start it early enough in a stretch that holds all of it.",
    )


def _barely_begun(facts: AuditFacts, activity: Activity, span: Span, window: Span) -> Finding:
    return broken(
        f"least start/{activity.id}",
        facts.place(activity.id),
        f'"{activity.name}" begins with only {facts.hours(window[1] - span[0])} left before the hours close at '
        f"{facts.when(window[1])}, and goes on later.",
        found=facts.span(span),
        required=f"at least {facts.hours(activity.least_start)} of it, or all, before the hours close",
        source=activity.source,
        remedy="Begin it earlier, or when the hours open again.",
    )


def limits(facts: AuditFacts) -> Iterator[Finding]:
    """Nothing starts before the data date, and all is finished by the horizon and the target."""
    network = facts.network
    for activity_id, (start, finish) in facts.spans.items():
        name = facts.name(activity_id)
        if start < network.data_date:
            yield broken(
                f"data date/{activity_id}",
                facts.place(activity_id),
                f"{name} starts before the date this plan is made from.",
                found=facts.when(start),
                required=f"{facts.when(network.data_date)} or later",
                remedy="Start it later; what has already happened belongs in the record, not in the plan.",
            )
        if finish > network.horizon:
            yield broken(
                f"horizon/{activity_id}",
                facts.place(activity_id),
                f"{name} finishes after the last day for which working hours are known.",
                found=facts.when(finish),
                required=f"{facts.when(network.horizon)} or earlier",
                remedy="Finish it earlier.",
            )
    target = network.target
    if target is None:
        return
    late = [i for i, (_, finish) in facts.spans.items() if finish > target.at]
    if late:
        late.sort(key=lambda i: -facts.spans[i][1])
        yield broken(
            target.id,
            facts.place(late[0]),
            f"{facts.names(late)} {'finish' if len(late) > 1 else 'finishes'} after the target.",
            found=facts.when(facts.spans[late[0]][1]),
            required=f"{facts.when(target.at)} or earlier",
            because=target.because,
            source=target.source,
            remedy="Finish the job earlier, or agree a later target.",
        )


def date_rules(facts: AuditFacts) -> Iterator[Finding]:
    """Each dated rule on one start or finish holds."""
    for rule in facts.network.dates:
        span = facts.spans.get(rule.activity)
        if span is None:
            continue
        tick = span[0] if rule.edge == "start" else span[1]
        early = tick < rule.at and rule.sense in ("min", "fixed")
        late = tick > rule.at and rule.sense in ("max", "fixed")
        if early or late:
            yield _wrong_date(facts, rule, tick, early=early)


def _wrong_date(facts: AuditFacts, rule: DateRule, tick: int, *, early: bool) -> Finding:
    name = facts.name(rule.activity)
    which = {"min": "{} or later", "max": "{} or earlier", "fixed": "exactly {}"}[rule.sense]
    required = which.format(facts.when(rule.at))
    return broken(
        rule.id,
        facts.place(rule.activity),
        f"{name} {SAID[rule.edge]} too {'early' if early else 'late'}.",
        found=facts.when(tick),
        required=required,
        because=rule.because,
        source=rule.source,
        remedy=f"Let it {rule.edge} {required}.",
    )


def firm_bookings(facts: AuditFacts) -> Iterator[Finding]:
    """Each activity of a firm appointment starts inside it."""
    for booking in facts.network.bookings:
        if not booking.firm:
            continue
        for activity_id in booking.activities:
            span = facts.spans.get(activity_id)
            if span is not None and not booking.at <= span[0] < booking.until:
                exact = booking.until - booking.at <= 1
                yield broken(
                    booking.id,
                    facts.place(activity_id),
                    f'{facts.name(activity_id)} misses the firm appointment "{booking.name}".',
                    found=facts.when(span[0]),
                    required=f"a start {'at ' if exact else 'from '}{facts.when(booking.at)}"
                    + ("" if exact else f" and before {facts.when(booking.until)}"),
                    because=booking.because,
                    source=booking.source,
                    remedy="Keep the appointment, or ask for another one and enter it.",
                )


CHECKS: Mapping[str, tuple[AuditCheck, ...]] = {
    "activities": (presence,),
    "calendars": (working_time,),
    "target": (limits,),
    "dates": (date_rules,),
    "bookings": (firm_bookings,),
}
"""By field of the network."""
