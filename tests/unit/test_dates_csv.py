"""Dates as CSV: what is read, what is refused and how, and that our own files read back."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.audit import audit
from scheduler.dates_csv import FAULTS_AT_MOST, GUESSES_AT_MOST, LARGEST_FILE_MB, margin_in, read_dates, write_dates
from scheduler.errors import BadInput
from scheduler.network.contingency import with_contingency
from scheduler.network.kind import Kind
from scheduler.network.model import Renewal, Ticket, VisitRule
from scheduler.schedule import Schedule, Visit
from tests.jobs import at, job, task

LOOKS = tuple(task(i, 0.5, "city", Kind.INSPECT, one_window=True) for i in ("look-1", "look-2", "look-3"))
NETWORK = job(
    task("dig-R1", reach="R1", trade="gc"),
    task("fill-R1"),
    *LOOKS,
    tickets=(Ticket("t", "locates", 0, at(7, 0), ("dig-R1",), (Renewal("t.1", at(5, 8), at(6, 0)),)),),
    visit_rules=(VisitRule("city", "trench look", "City", "city", tuple(a.id for a in LOOKS)),),
)
SCHEDULE = Schedule(
    {
        "dig-R1": (at(0, 8), at(0, 10)),
        "fill-R1": (at(4, 8), at(4, 10)),
        "look-1": (at(1, 9), at(1, 9.5)),
        "look-2": (at(1, 9.5), at(1, 10)),
        "look-3": (at(3, 9), at(3, 9.5)),
    },
    (
        Visit("first", "city", at(1, 9), at(1, 10), ("look-1", "look-2")),
        Visit("second", "city", at(3, 9), at(3, 9.5), ("look-3",)),
    ),
    ("t.1",),
)
HEAD = "activity,start,finish\n"


def faults(text: str | Path) -> list[str]:
    with pytest.raises(BadInput) as caught:
        read_dates(text, NETWORK)
    return [str(f) for f in caught.value.findings]


@pytest.mark.parametrize(
    "row",
    [
        "dig-R1,2027-03-08 08:00,2027-03-08 10:00",
        "dig-R1,2027-03-08T08:00,2027-03-08T10:00:00",
        "dig-R1,2027-03-08T08:00-05:00,2027-03-08T15:00+00:00",
        " dig-R1 , 2027-03-08 08:00 , 2027-03-08T15:00Z ",
        '"dig-R1","2027-03-08 08:00","2027-03-08 10:00"',
        "'dig-R1,'2027-03-08 08:00,2027-03-08 10:00",  # marked as text
    ],
)
def test_local_times_and_times_with_an_offset_are_read(row: str):
    assert read_dates(HEAD + row + "\n", NETWORK).dates == {"dig-R1": (at(0, 8), at(0, 10))}


def test_columns_stand_in_any_order_among_others_and_empty_rows_are_passed_over():
    text = "\ufeffnotes,Finish,START,activity\n\n,,,\nrain?,2027-03-08 10:00,2027-03-08 08:00,dig-R1\n"
    assert read_dates(text, NETWORK).dates == {"dig-R1": (at(0, 8), at(0, 10))}


def test_semicolons_may_part_the_cells():
    text = "activity;start;finish\ndig-R1;2027-03-08 08:00;2027-03-08 10:00\n"
    assert read_dates(text, NETWORK).dates == {"dig-R1": (at(0, 8), at(0, 10))}


def test_looks_without_visits_are_grouped_by_the_window_they_are_made_in():
    text = (
        HEAD + "look-3,2027-03-11 09:00,2027-03-11 09:30\n"
        "look-2,2027-03-09 10:30,2027-03-09 11:00\n"
        "look-1,2027-03-09 09:30,2027-03-09 10:00\n"
    )
    assert read_dates(text, NETWORK).visits == (
        Visit("city@2027-03-09 09:00", "city", at(1, 9.5), at(1, 11), ("look-1", "look-2")),
        Visit("city@2027-03-11 09:00", "city", at(3, 9), at(3, 9.5), ("look-3",)),
    )


def test_a_look_in_no_window_is_a_visit_of_its_own():
    text = HEAD + "look-1,2027-03-08 09:30,2027-03-08 10:00\nlook-2,2027-03-08 09:00,2027-03-08 09:30\n"
    assert read_dates(text, NETWORK).visits == (
        Visit("city@2027-03-08 09:00", "city", at(0, 9), at(0, 9.5), ("look-2",)),
        Visit("city@2027-03-08 09:30", "city", at(0, 9.5), at(0, 10), ("look-1",)),
    )


def test_visits_that_the_rows_name_are_taken_as_named():
    text = (
        "activity,start,finish,visit\n"
        "look-1,2027-03-09 09:00,2027-03-09 09:30,early\n"
        "look-2,2027-03-09 09:30,2027-03-09 10:00,late\n"
        "look-3,2027-03-11 09:00,2027-03-11 09:30,\n"
        "fill-R1,2027-03-12 08:00,2027-03-12 10:00,odd\n"
    )
    assert read_dates(text, NETWORK).visits == (
        Visit("early", "city", at(1, 9), at(1, 9.5), ("look-1",)),
        Visit("late", "city", at(1, 9.5), at(1, 10), ("look-2",)),
        Visit("odd", "", at(4, 8), at(4, 10), ("fill-R1",)),
    )


def test_all_faults_are_told_at_once_each_with_its_line(tmp_path: Path):
    path = tmp_path / "theirs.csv"
    path.write_text(
        HEAD + "dig-R2,2027-03-08 08:00,2027-03-08 10:00\n"
        "fill-R1,next Monday,2027-03-08 10:05\n"
        "\n"
        "dig-R1,2027-03-08 08:00,2027-03-08 10:00\n"
        "dig-R1,2027-03-08 08:00,2027-03-08 10:00\n"
        "look-1,2027-03-14 02:30,2027-03-14\n"
        "look-2\n"
        "renew:t.2,,\n"
        '"=HYPERLINK(""x"")",,\n',
        encoding="utf-8",
    )
    needed = "expected a date and time such as 2027-03-09 10:30, on a quarter hour."
    assert faults(path) == [
        'theirs.csv:2: dig-R2: No activity has this id. Found "dig-R2"; expected an id of this job, such as "dig-R1".',
        f'theirs.csv:3: fill-R1: Its start cannot be used. Found "next Monday"; {needed}',
        f'theirs.csv:3: fill-R1: Its finish cannot be used. Found "2027-03-08 10:05"; {needed}',
        "theirs.csv:6: dig-R1: This activity has a second row. Found line 6; expected one row; the first is line 5.",
        f'theirs.csv:7: look-1: Its start cannot be used. Found "2027-03-14 02:30"; {needed}',  # clocks go forward
        f'theirs.csv:7: look-1: Its finish cannot be used. Found "2027-03-14"; {needed}',  # no time of day
        f'theirs.csv:8: look-2: Its start cannot be used. Found ""; {needed}',
        f'theirs.csv:8: look-2: Its finish cannot be used. Found ""; {needed}',
        'theirs.csv:9: renew:t.2: No activity has this id. Found "renew:t.2"; '
        'expected an id of this job, such as "renew:t.1".',
        'theirs.csv:10: =HYPERLINK("x"): No activity has this id. Found "=HYPERLINK("x")"; expected an id of this job.',
    ]


def test_a_row_over_several_lines_is_named_by_its_first():
    text = 'activity,start,finish,notes\ndig-R1,2027-03-08 08:00,2027-03-08 10:00,"two\nlines"\nno-such,,,\n'
    assert faults(text)[0].startswith("dates:4: no-such")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "dates:1: first row: Column missing: activity, start, finish. Found nothing"),
        ("activity,begin,finish\n", "Column missing: start. Found activity, begin, finish"),
        (HEAD + "x" * 200_000 + ",,\n", "This is no CSV row. Found field larger than field limit"),
        ("x" * 200_000 + ",,\n", "dates:1: row: This is no CSV row."),
        (HEAD + ",2027-03-08 08:00,2027-03-08 10:00\n", 'dates:2: row: No activity has this id. Found ""'),
        (HEAD + "dig-R1,0001-01-01 00:00,9999-12-31 23:59+14:00\n", "Its start cannot be used."),
    ],
)
def test_what_is_not_a_schedule_is_refused_in_plain_words(text: str, said: str):
    assert said in faults(text)[0]


def test_a_file_that_is_huge_or_no_text_or_not_there_is_refused(tmp_path: Path):
    huge, binary = tmp_path / "huge.csv", tmp_path / "binary.csv"
    huge.write_bytes(b" " * (LARGEST_FILE_MB * 1_000_000 + 1))
    binary.write_bytes(b"\xff\xfe\x00\x80")
    assert faults(huge)[0].startswith(
        "huge.csv: These dates cannot be read. Found 5.0 MB; expected a CSV file in UTF-8"
    )
    assert "not UTF-8 text" in faults(binary)[0]
    assert "No such file" in faults(tmp_path / "none.csv")[0]
    assert "Is a directory" in faults(tmp_path)[0]
    assert "10.0 MB" in faults("x" * 10_000_000)[0]


def test_a_file_of_noise_is_given_up_after_enough_faults():
    found = faults(HEAD + "dig-R9,,\n" * 50_000)
    assert len(found) == FAULTS_AT_MOST + 1
    assert sum("such as" in f for f in found) == GUESSES_AT_MOST
    assert found[-1].startswith(f"dates:{FAULTS_AT_MOST + 1}: file: Too many faults.")


def test_our_own_file_reads_back_as_the_same_schedule(tmp_path: Path):
    path = tmp_path / "activities.csv"
    path.write_text(write_dates(SCHEDULE, NETWORK), encoding="utf-8")
    assert read_dates(path, NETWORK) == SCHEDULE
    assert audit(NETWORK, read_dates(path, NETWORK)) == []


def test_our_own_file_has_a_row_an_activity_by_start_and_one_a_renewal():
    lines = write_dates(SCHEDULE, NETWORK).splitlines()
    assert lines[0] == "activity,name,kind,trade,reach,margin_percent,start,finish,visit"
    assert lines[1] == "dig-R1,task dig-R1,activity,gc,R1,0,2027-03-08T08:00-05:00,2027-03-08T10:00-05:00,"
    assert lines[2] == "look-1,task look-1,inspect,,,,2027-03-09T09:00-05:00,2027-03-09T09:30-05:00,first"
    assert lines[-1] == "renew:t.1,Renew locates,,,,,2027-03-13T08:00-05:00,2027-03-13T08:00-05:00,"
    assert len(lines) == 1 + len(SCHEDULE.dates) + 1
    assert write_dates(Schedule({}), NETWORK).splitlines() == lines[:1]


IDS = st.text(st.sampled_from("=+-@'\"a,;é"), min_size=1, max_size=6)
NAMES = st.text(st.sampled_from("=+-@'\"a,;\n\r\t é"), max_size=6)


@settings(deadline=None)
@given(key=IDS, name=NAMES)
def test_no_cell_is_a_formula_and_every_id_reads_back(key: str, name: str):
    activity = replace(task(key), name=name, reach=name, trade=name)
    network, schedule = job(activity), Schedule({key: (at(0, 8), at(0, 10))})
    text = write_dates(schedule, network)
    cells = [cell for row in csv.reader(text.splitlines(keepends=True)) for cell in row]
    assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for cell in cells)
    assert read_dates(text, network) == schedule


def test_the_margin_of_own_dates_reads_back_and_what_is_none_is_told_with_its_line():
    assert margin_in(write_dates(SCHEDULE, NETWORK)) == 0
    assert margin_in(write_dates(SCHEDULE, with_contingency(NETWORK, 15))) == 15
    assert margin_in(HEAD + "fill-R1,x,y\n") == 0, "nothing is said of it"
    with pytest.raises(BadInput) as caught:
        margin_in("activity,margin_percent\na,10\nb,ten\nc,\nd,900\n")
    assert [(f.line, f.found) for f in caught.value.findings] == [(3, '"ten"'), (5, '"900"')]
