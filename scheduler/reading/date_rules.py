"""The families of rules that bind dates: what each says, and the fields of a site file that make and change it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DateFamily:
    """One kind of rule on dates, as `explain.families.KINDS` names it."""

    sentence: str
    fields: tuple[str, ...]
    """Where a site file says it, such as `limits.swing_ft`; the first is the nearest to what it is about."""
    source: str = "the site file"
    value: str = ""
    """What holds, in words, when the fields' own values do not tell it."""
    change: str = ""
    """Where it is changed, in a sentence, when that is not in those fields."""


DATE_FAMILIES: Mapping[str, DateFamily] = {
    "order": DateFamily(
        "Work in a stretch of trench goes in the only order it can: dig, bed, lay, test, look, shade, fill, restore.",
        ("reaches.from", "lines.route", "lines.cover_in", "structures.lines", "own_work.after", "own_work.before"),
        "the way the work is built up",
    ),
    "hold": DateFamily(
        "What must be seen before it is covered stays open until the look has passed and the hold is released.",
        (
            "inspections.stage",
            "inspections.hold",
            "inspections.kinds",
            "inspections.lines",
            "inspections.released_by",
            "own_work.released_by",
        ),
    ),
    "junction": DateFamily(
        "Where lines join, the branch is laid, joined, and tested and seen if asked for, before the main is covered.",
        ("lines.joins", "alignments.leaves", "lines.route"),
        "the way the work is built up",
    ),
    "outside order": DateFamily(
        "Others come only when what they need is there: lines laid, seen or covered, and other work done before.",
        ("outside_work.lines_state", "outside_work.lines", "outside_work.after", "outside_work.needs_inspections"),
    ),
    "space": DateFamily(
        "One trade at a time works in a stretch, and nobody works within reach of the machine: in the trench, at the "
        "ends of a run that is proved or pulled, or where others connect a line.",
        ("limits.swing_ft", "outside_work.at", "outside_work.not_at_trench"),
    ),
    "behind": DateFamily(
        "Where a distance is chosen, bedding and laying follow the dig of their own stretch no nearer than that, in "
        "one direction, and never within the machine's swing; where none is, they wait until the stretch is dug.",
        ("limits.lay_behind_ft", "limits.swing_ft", "trades.members", "trades.work_needs"),
        "29 CFR 1926.651(e); the site file",
        value="where limits.lay_behind_ft is given",
    ),
    "wait": DateFamily(
        "A test is held, and what cures cures, for as long as it takes.",
        (
            "lines.test",
            "lines.joint_cure_hours",
            "site_work.temporary_paving",
            "rates.temporary_paving_days",
            "rates.concrete_cure_hours",
            "rates.density_result_hours",
            "rates.disinfect_contact_hours",
        ),
    ),
    "whole test": DateFamily(
        "A line that is tested in one piece stays open over its whole length until the test has passed.",
        ("lines.test.over", "lines.test.hold_hours"),
    ),
    "visit": DateFamily(
        "An authority sees at most so many stretches, or so many feet, in one visit.",
        ("inspections.looks_per_visit", "inspections.feet_per_visit", "inspections.look_minutes"),
    ),
    "open limit": DateFamily(
        "No more than so many feet of trench, or so many reaches, stand open at any moment.",
        ("limits.open_trench_ft", "limits.reaches_open"),
    ),
    "closed weeks": DateFamily(
        "No trench stands open over weeks in which nobody may work there: it is filled before them, or dug after.",
        ("limits.closed_days_open", "calendars.closed"),
    ),
    "season": DateFamily(
        "In some places no trench stands open on some days of the year: it is filled before them, or dug after.",
        ("seasons.stops", "seasons.from", "seasons.to", "seasons.reaches", "seasons.surfaces", "seasons.places"),
        value="where a season stops open_trench",
    ),
    "way": DateFamily(
        "A way whose trench is to be filled at night is dug, laid and filled inside the hours of one day.",
        ("reaches.access.at_night", "reaches.access.closed_only"),
        value="where reaches.access.at_night is filled (it is plated where left out)",
    ),
    "resource": DateFamily(
        "Crews, machines and inspectors are at one place at a time: as many at once as there are.",
        ("trades.crews", "equipment.count"),
    ),
    "hours": DateFamily(
        "Work is done in the hours of its calendar, less closed days, days of rain and seasons in which it is not done "
        "there, or when it was offered.",
        (
            "calendars.weekly",
            "calendars.closed",
            "calendars.open",
            "calendars.holidays",
            "limits.rain_days",
            "seasons.stops",
            "reaches.access",
            "outside_work.offered",
        ),
    ),
    "notice": DateFamily(
        "Whoever comes is called so many working days before, and nobody is called before the job begins.",
        ("inspections.notice_days", "trades.notice_days", "outside_work.notice_days"),
    ),
    "pass": DateFamily(
        "Cover follows within so many days of the look that passed; after that it is looked at again. For a stretch "
        "kept open for others a pass stands longer, unless the site says otherwise; a plan tells where.",
        ("inspections.pass_valid_days", "inspections.pass_stands_while_kept_open"),
    ),
    "keep open": DateFamily(
        "A stretch stays uncovered until the work it is kept open for is done.",
        ("keep_open.until", "keep_open.from", "keep_open.to", "keep_open.released_by"),
    ),
    "ticket": DateFamily(
        "Digging starts when the locate ticket is clear, and ends before it expires with its renewals.",
        (
            "locate_tickets.called",
            "locate_tickets.clear",
            "locate_tickets.notice_days",
            "locate_tickets.life_days",
            "locate_tickets.renewals",
        ),
        "29 CFR 1926.651(b); notice and life as the site file gives them",
    ),
    "date": DateFamily(
        "Something starts no earlier, or no later, than somebody said while the job was under way.",
        (),
        "the journal",
        change="In the journal: jointtrench report SITE delayed.",
    ),
    "booking": DateFamily(
        "An appointment that is firm is kept.",
        ("bookings.start", "bookings.firm", "bookings.move_cost"),
    ),
    "target": DateFamily(
        "Everything is finished by the end of the day that was promised.",
        ("site.target_finish",),
    ),
}
"""By kind. One for every kind that a conflict or a reason can name."""
