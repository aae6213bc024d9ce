"""Tables for spreadsheets: no cell is a formula, every cell reads back, every row is there."""

from __future__ import annotations

import csv
import io
import os
from pathlib import PurePosixPath, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.cells import plain, safe
from scheduler.export.audiences import EVERYBODY, Audience
from scheduler.export.names import file_name
from scheduler.export.tables import ACTIVITIES, HOLDS, VISITS, activities_csv, holds_csv, visits_csv
from tests.papers import facts_of, planned, read_table, renamed
from tests.pictures import SITES, bundled

DANGEROUS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""First characters that the OWASP page "CSV Injection" lists."""


@pytest.mark.parametrize("name", SITES)
def test_tables_hold_every_row_with_its_local_times(name):
    facts = facts_of(name)
    work, visits, holds = (read_table(t(facts)) for t in (activities_csv, visits_csv, holds_csv))
    own = [a for a in facts.plan.activities if a.kind != "inspect"]
    assert [r["activity"] for r in work] == [a.id for a in own]
    assert [r["start"] for r in work] == [a.start.isoformat(timespec="minutes") for a in own]
    assert [float(r["working hours"]) * 60 for r in work] == [a.work_minutes for a in own]
    assert [r["visit"] for r in visits] == [v.id for v in facts.plan.visits]
    assert [r["hold points"].split("; ") for r in visits] == [list(v.covers) for v in facts.plan.visits]
    assert [r["hold point"] for r in holds] == [h.id for h in facts.plan.holds]
    assert [r["planned release"] for r in holds] == [
        h.planned_release.isoformat(timespec="minutes") for h in facts.plan.holds
    ]
    gated = {(r["activity"], h) for r in work for h in r["waits for hold points"].split("; ") if h}
    assert gated == {(g, h.id) for h in facts.plan.holds for g in h.gates}


def test_a_partys_tables_hold_what_concerns_it():
    facts = facts_of("orchard-lane")
    plumber = Audience("trade", "plumber", "Plumber")
    assert {r["who"] for r in read_table(activities_csv(facts, plumber))} == {"Plumber"}
    holds = {r["hold point"] for r in read_table(holds_csv(facts, plumber))}
    assert holds
    assert all("water" in h or "tests" in h for h in holds)
    assert 0 < len(read_table(visits_csv(facts, plumber))) < len(read_table(visits_csv(facts, EVERYBODY)))


@pytest.mark.known
@pytest.mark.parametrize("first", DANGEROUS)
def test_names_that_look_like_formulas_are_text_and_read_back(first):
    evil = f'{first}HYPERLINK("http://evil.example","x");\n"q",\t\''
    facts = planned(renamed(bundled("orchard-lane")[0], lambda name: evil + name))
    for table, head in ((activities_csv, ACTIVITIES), (visits_csv, VISITS), (holds_csv, HOLDS)):
        text = table(facts)
        rows = list(csv.reader(io.StringIO(text, newline="")))
        assert tuple(rows[0]) == head
        assert {len(row) for row in rows} == {len(head)}
        assert not any(cell.startswith(DANGEROUS) for row in rows for cell in row)
    work = {r["activity"]: r for r in read_table(activities_csv(facts))}
    for activity in facts.plan.activities:
        if activity.kind != "inspect":
            assert work[activity.id]["name"] == activity.name
            assert work[activity.id]["who"] == facts.who(activity)
            assert work[activity.id]["where"] == facts.place(activity)


@given(st.text())
def test_every_cell_reads_back_and_is_no_formula(cell):
    kept = safe(cell)
    assert plain(kept) == cell
    assert not kept.startswith(DANGEROUS)
    assert not kept.lstrip().startswith(DANGEROUS)


@given(st.text(max_size=120), st.text(max_size=20))
def test_a_file_name_names_a_file_in_its_folder_on_any_system(whom, other):
    taken: set[str] = set()
    names = [file_name("calendar", w, "ics", taken) for w in (whom, other, whom)]
    assert len({n.casefold() for n in names}) == 3
    for name in names:
        assert PurePosixPath(name).name == name == PureWindowsPath(name).name
        assert name.startswith("calendar")
        assert name.endswith(".ics")
        assert name.isprintable()
        assert len(os.fsencode(name)) <= 255  # NAME_MAX of common file systems
        assert not set(name) & set('<>:"/\\|?*')


@pytest.mark.parametrize(
    ("whom", "name"),
    [
        ("Electrician", "look-ahead Electrician.pdf"),
        ("../../etc/passwd", "look-ahead etc passwd.pdf"),
        ("C:\\Windows\\x", "look-ahead C Windows x.pdf"),
        ("Peña & Söhne", "look-ahead Peña Söhne.pdf"),
        ("con", "look-ahead.pdf"),
        ("...", "look-ahead.pdf"),
        ("a\x00b\nc", "look-ahead a b c.pdf"),
    ],
)
def test_file_names_keep_what_is_harmless(whom, name):
    assert file_name("look-ahead", whom, "pdf") == name
