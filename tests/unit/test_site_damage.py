"""The small site damaged in one place after another: every fault is told, on its line, in plain words."""

from __future__ import annotations

import pytest

from scheduler.findings import Severity
from tests.small_site import FILE, SMALL_SITE, damaged, faults_in, line_of

CASES: dict[str, tuple[list[tuple[str, str]], list[tuple[str, str, str]]]] = {
    # name: (damage, [(texts that lead to the line at fault, where, part of what is said)])
    "a reach longer than the trench that may stand open": (
        [("open_trench_ft: 160", "open_trench_ft: 55")],
        [
            (
                "id: R1 > to:",
                "reaches[1] 'R1' to",
                "Split the reach at 0+50, or raise `open_trench_ft` to 100 or more. "
                "Found 100 ft; expected at most 55 ft (limits: open_trench_ft).",
            ),
            ("id: R2 > to:", "reaches[2] 'R2' to", "Split the reach at 1+30, or raise `open_trench_ft` to 60 or more."),
        ],
    ),
    "a reach many times longer than the trench that may stand open": (
        [("open_trench_ft: 160", "open_trench_ft: 10")],
        [
            ("id: R1 > to:", "reaches[1] 'R1' to", "Split it into reaches of at most 10 ft, or raise"),
            ("id: R2 > to:", "reaches[2] 'R2' to", "Split the reach at 1+10 and 1+20 and 1+30 and 1+40 and 1+50, or"),
            ("id: R3 > to:", "reaches[3] 'R3' to", "Split the reach at 0+10 and 0+20 and 0+30, or raise"),
        ],
    ),
    "wrong type": (
        [("cover_in: 38", "cover_in: deep")],
        [("cover_in: deep", "lines[1] 'P1' cover_in", "Found 'deep'; expected a positive number.")],
    ),
    "negative length": (
        [("length_ft: 160", "length_ft: -160")],
        [("length_ft: -160", "alignments[1] 'M' length_ft", "out of range. Found '-160'; expected a positive number.")],
    ),
    "a word where a truth is wanted": (
        [("own: true", "own: perhaps")],
        [("own: perhaps", "trades[1] 'gc' own", "Found 'perhaps'; expected true or false.")],
    ),
    "unknown word": (
        [("material: pvc40", "material: pvc4O")],
        [("material: pvc4O", "lines[1] 'P1' material", "did you mean 'pvc40'?")],
    ),
    "unknown key": (
        [("cover_in: 38", "covr_in: 38")],
        [("covr_in", "lines[1] 'P1' covr_in", "Unknown field 'covr_in'; did you mean 'cover_in'?")],
    ),
    "unknown key near an alias": (
        [("{alignment: M, from: 0+00, to: 1+60}", "{alignment: M, form: 0+00, to: 1+60}")],
        [
            ("form: 0+00", "lines[1] 'P1' route[1] from", "expected a station such as 1+60 or a number of feet."),
            ("form: 0+00", "lines[1] 'P1' route[1] form", "did you mean 'from'?"),
        ],
    ),
    "unknown section": (
        [("\nlines:\n", "\nlins:\n")],
        [
            ("# Invented", "lines", "The field 'lines' is missing."),
            ("lins:", "lins", "Unknown field 'lins'; did you mean 'lines'?"),
        ],
    ),
    "section that is no list": (
        [("  - {id: R1, alignment: M, from: 0+00, to: 1+00, bottom_width_in: 36, soil: B}\n", "  none\n")]
        + [(row + "\n", "") for row in SMALL_SITE.splitlines() if "id: R2" in row or "id: R3" in row],
        [("reaches:", "reaches", "Found 'none'; expected a list of at least one")],
    ),
    "missing field": (
        [("    kind: power\n", "")],
        [("- id: P1", "lines[1] 'P1' kind", "The field 'kind' is missing. Found nothing; expected one of power,")],
    ),
    "text too long": (
        [("name: Main run", f"name: {'run ' * 60}")],
        [("run run", "alignments[1] 'M' name", "too long")],
    ),
    "bad id": (
        [("id: T1", "id: T 1")],
        [("id: T 1", "locate_tickets[1] 'T 1' id", "expected a short name of letters, digits")],
    ),
    "bad station": (
        [("station: 1+60", "station: 1+6x")],
        [("1+6x", "structures[2] 'S2' station", "Found '1+6x'; expected a station such as 1+60")],
    ),
    "bad hours": (
        [("mon-thu 08:00-16:00", "mon-thu 8-16")],
        [("8-16", "calendars[3] 'utility' weekly[1]", "expected days and hours such as mon-fri 07:00-15:30.")],
    ),
    "hours off the quarter": (
        [("mon-thu 08:00-16:00", "mon-thu 08:10-16:00")],
        [("08:10", "calendars[3] 'utility' weekly[1]", "Found 'mon-thu 08:10-16:00'")],
    ),
    "a date that is none": (
        [("first_day: 2026-06-08", "first_day: 2026-02-30")],
        [("2026-02-30", "site first_day", "There is no such date. Found '2026-02-30'")],
    ),
    "a date as a bare number": (
        [("first_day: 2026-06-08", "first_day: 20260608")],
        [("20260608", "site first_day", "expected a date such as 2026-06-08.")],
    ),
    "unknown trade": (
        [("    trade: elec\n", "    trade: ellec\n")],
        [("trade: ellec", "lines[1] 'P1' trade", "There is no trade 'ellec'; did you mean 'elec'?")],
    ),
    "unknown outside work": (
        [("until: U1", "until: U2")],
        [("until: U2", "keep_open[1] 'K1' until", "There is no outside work 'U2'; did you mean 'U1'?")],
    ),
    "unknown authority to release": (
        [("released_by: wire", "released_by: wirre")],
        [("wirre", "keep_open[1] 'K1' released_by", "There is no person 'wirre'; did you mean 'wire'?")],
    ),
    "duplicate id": (
        [("id: R2", "id: R1")],
        [("id: R1, alignment: M, from: 1+00", "reaches[2] 'R1' id", "Another reach is already called 'R1'")],
    ),
    "an inspection and outside work of one name": (
        [("- id: I1", "- id: U1"), ("needs_inspections: [I1]", "needs_inspections: [U1]")],
        [("outside_work > id: U1", "outside_work[1] 'U1' id", "An inspection is also called 'U1'")],
    ),
    "a name twice in one list": (
        [("lines: [P1, C1]", "lines: [P1, P1]")],
        [("[P1, P1]", "structures[1] 'S1' lines[2]", "'P1' stands twice in this list.")],
    ),
    "duplicate key": (
        [("    voltage_v: 240\n", "    voltage_v: 240\n    size_in: 3 # again\n")],
        [
            (
                "# again",
                "lines[1] 'P1' size_in",
                "'size_in' is given twice in the same record; it stands already on line 53.",
            )
        ],
    ),
    "station past the end": (
        [("station: 1+60", "station: 1+80")],
        [("1+80", "structures[2] 'S2' station", "past the end of 'M', Main run. Found 1+80; expected at most 1+60.")],
    ),
    "stretch that runs backwards": (
        [("to: 0+06   #", "to: 0+00   #")],
        [("to: 0+00   #", "keep_open[1] 'K1' to", "expected 'from' before 'to'.")],
    ),
    "reaches that overlap": (
        [("{id: R2, alignment: M, from: 1+00", "{id: R2, alignment: M, from: 0+90")],
        [("id: R2", "reaches[2] 'R2'", "This reach is dug by reach 'R1' too, from 0+90 to 1+00.")],
    ),
    "a line where nothing is dug": (
        [("{id: R3, alignment: B, from: 0+00, to: 0+40", "{id: R3, alignment: B, from: 0+00, to: 0+30")],
        [
            ("name: Water > alignment: B", "lines[2] 'W1' route[2]", "no reach is dug from 0+30 to 0+40 of 'B'."),
            (
                "name: Shed lighting > alignment: B",
                "lines[4] 'L1' route[2]",
                "no reach is dug from 0+30 to 0+40 of 'B'.",
            ),
        ],
    ),
    "a route in two pieces": (
        [("- {alignment: M, from: 0+00, to: 1+00}", "- {alignment: M, from: 0+00, to: 0+90}")],
        [
            (
                "name: Water > alignment: B",
                "lines[2] 'W1' route[2]",
                "does not join the rest, end to end or at a branch.",
            )
        ],
    ),
    "a keep-open stretch on no line": (
        [
            (f"route:\n      - {{alignment: M, from: 0+00, to: {end}}}", new)
            for end, new in (
                ("1+60", "route:\n      - {alignment: M, from: 0+06, to: 1+60}"),
                ("1+00", "route:\n      - {alignment: M, from: 0+06, to: 1+00}"),
                ("1+60", "route:\n      - {alignment: M, from: 0+06, to: 1+60}"),
            )
        ]
        + [("lines: [P1, C1]}", "lines: []}")],
        [("- id: K1", "keep_open[1] 'K1'", "No line runs here, so there is nothing to keep open.")],
    ),
    "a structure beside the wrong line": (
        [("station: 1+60, lines: [P1]", "station: 1+60, lines: [W1]")],
        [("id: S2", "structures[2] 'S2' lines[1]", "Line 'W1' does not come to House panel at 1+60.")],
    ),
    "outside work in a ring": (
        [("    lines: [P1]\n", "    lines: [P1]\n    after: [U1] # itself\n")],
        [("# itself", "outside_work[1] 'U1' after", "These wait for one another in a ring: U1 → U1.")],
    ),
    "alignments in a ring": (
        [("id: M, name: Main run,", "id: M, name: Main run, leaves: {alignment: B, station: 0},")],
        [("id: M, name", "alignments[1] 'M' leaves", "branch off one another in a ring: M → B → M.")],
    ),
    "nobody to dig": (
        [("  general_trade: gc\n", ""), ("    own: true\n", "")],
        [("site:", "site general_trade", "Nobody digs and fills: mark a trade 'own: true'")],
    ),
    "unknown time zone and state": (
        [("America/Denver", "America/Denvr"), ("state: CO", "state: Colorado Springs")],
        [
            ("Denvr", "site time_zone", "There is no time zone 'America/Denvr'; did you mean 'America/Denver'?"),
            ("Springs", "site state", "There is no state of US 'Colorado Springs'"),
        ],
    ),
    "target before the first day": (
        [("target_finish: 2026-07-10", "target_finish: 2026-06-01")],
        [("2026-06-01", "site target_finish", "The target lies before the first day. Found 2026-06-01")],
    ),
    "target past the horizon": (
        [("horizon_days: 90", "horizon_days: 20")],
        [("2026-07-10", "site target_finish", "raise horizon_days. Found 2026-07-10; expected 2026-06-27 or earlier.")],
    ),
    "a calendar that never opens": (
        [('weekly: ["mon,wed,fri 08:00-11:00"]', "weekly: []")],
        [("- id: city", "calendars[2] 'city'", "The calendar 'city inspection mornings' never opens")],
    ),
    "a calendar that opens after the target": (
        [('weekly: ["mon,wed,fri 08:00-11:00"]', "open: [{date: 2026-07-14, hours: 08:00-11:00}]")],
        [
            (
                "    calendar: city",
                "inspections[1] 'I1' calendar",
                "The hours of this inspection never open before the target. Found first open Tue 14 Jul 08:00",
            )
        ],
    ),
    "work longer than its windows": (
        [("    hours: 3\n", "    hours: 9\n"), ("bookings:\n", "bookings: []\nx_bookings:\n")],
        [
            ("hours: 9", "outside_work[1] 'U1' hours", "Found 9 hours; expected at most 8 hours."),
            ("x_bookings:", "x_bookings", "did you mean 'bookings'?"),
        ],
    ),
    "a booking out of hours": (
        [("start: 2026-06-30 09:00", "start: 2026-06-26 09:00")],
        [
            (
                "id: BK1",
                "bookings[1] 'BK1' start",
                "3 hours within 'utility crew hours', next open Mon 29 Jun 08:00.",
            )
        ],
    ),
    "a booking before the first day": (
        [("start: 2026-06-30 09:00", "start: 2026-06-02 09:00")],
        [("id: BK1", "bookings[1] 'BK1' start", "This lies before the first day of the job.")],
    ),
    "an offer too late in the day": (
        [("    hours: 3\n", "    hours: 3\n    offered: [2026-06-30 08:00, 2026-06-30 14:00]\n")],
        [("offered:", "outside_work[1] 'U1' offered[2]", "Found 2026-06-30 14:00; expected 3 hours within")],
    ),
    "a ticket clear before the call": (
        [("    notice_days: 2\n    life_days", "    clear: 2026-06-07 08:00\n    life_days")],
        [("clear:", "locate_tickets[1] 'T1' clear", "The ticket is clear before it was called in.")],
    ),
    "a rule sheet from elsewhere": (
        [("format: 1\n", "format: 1\nrule_sheets: [town.yaml, ../../etc/passwd]\n")],
        [("rule_sheets", "rule_sheets[2]", "Give the file name alone, without folders.")],
    ),
    "hours for work that takes none": (
        [("format: 1\n", "format: 1\ndurations: {R1/dig: 4, R2/dig: 0}\n")],
        [("durations", "durations R2/dig", "Found '0'; expected a positive number.")],
    ),
    "a format from the future": (
        [("format: 1\n", "format: 2\n")],
        [("format", "format", "Found '2'; expected a whole number from 1 to 1.")],
    ),
    "a tag": (
        [("name: Main run", "name: !!python/object:os.system run")],
        [("os.system", "alignments[1] 'M' name", "means nothing here; remove it.")],
    ),
    "many at once, in one record and in others": (
        [
            ("first_day: 2026-06-08", "first_day: soon"),
            ("    trade: elec\n", "    trade: ellec\n"),
            ("cover_in: 38", "cover_in: deep"),
            ("to: 0+06   #", "to: 3+06   #"),
            ("crews: 1", "crews: 99"),
            ("calendar: utility", "calendar: utilty"),
            ("needs_inspections: [I1]", "needs_inspection: [I1]"),
        ],
        [
            ("first_day: soon", "site first_day", "expected a date such as 2026-06-08."),
            ("trade: ellec", "lines[1] 'P1' trade", "There is no trade 'ellec'"),
            ("cover_in: deep", "lines[1] 'P1' cover_in", "expected a positive number."),
            ("to: 3+06", "keep_open[1] 'K1' to", "past the end of 'M'"),
            ("crews: 99", "trades[1] 'gc' crews", "expected a whole number from 1 to 20."),
            ("calendar: utilty", "outside_work[1] 'U1' calendar", "did you mean 'utility'?"),
            ("needs_inspection:", "outside_work[1] 'U1' needs_inspection", "did you mean 'needs_inspections'?"),
        ],
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_each_damage_is_told_in_full_and_on_its_line(name: str) -> None:
    changes, expected = CASES[name]
    text = damaged(*changes)
    found = faults_in(text)
    assert [(f.line, f.where) for f in found] == [(line_of(text, mark), where) for mark, where, _ in expected]
    for finding, (_, _, said) in zip(found, expected, strict=True):
        assert said in str(finding)
        assert str(finding).startswith(f"{FILE}:{finding.line}: {finding.where}: ")
        assert (finding.severity, finding.file) == (Severity.STOP, FILE)
