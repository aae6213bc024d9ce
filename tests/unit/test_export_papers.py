"""Printed look-aheads, read back with another program: sizes, pages, words, margins, black on white."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from scheduler.export.audiences import EVERYBODY, parties
from scheduler.export.days import day_sheets
from scheduler.export.letters import printable
from scheduler.export.lookahead import Period, look_ahead
from scheduler.situation.call_list import phone_calls
from scheduler.situation.plan_in_force import PlanInForce
from scheduler.situation.situation import situation_at
from scheduler.spoken import day
from scheduler.trench.cautions import CAUTIONS
from tests.papers import facts_of, photograph, planned, read_pdf, renamed, squeezed
from tests.pictures import SITES, bundled

LETTER = (8.5 * 72, 11 * 72)
"""Size A of ASME Y14.1, 8.5 by 11 in [points]."""
A4 = (210 / 25.4 * 72, 297 / 25.4 * 72)
"""A4 of ISO 216, 210 by 297 mm [points]."""

FILLERS = {"one": "W" * 160, "many": "very long words " * 10, "marks": "<b>&amp;</i>]]> " * 9}


def stretch(facts, weeks=2, after=0):
    return Period(facts.plan.data_date.date() + timedelta(days=after), weeks)


@pytest.mark.known
@pytest.mark.parametrize(("paper", "size"), [("letter", LETTER), ("a4", A4)])
def test_pages_have_the_size_of_the_standard(paper, size):
    facts = facts_of("orchard-lane")
    pdf = read_pdf(look_ahead(facts, EVERYBODY, stretch(facts), paper))
    assert len(pdf.sizes) > 1
    assert all(found == pytest.approx(size, abs=0.01) for found in pdf.sizes)


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("name", SITES)
def test_every_piece_of_work_and_every_visit_of_the_days_is_on_the_paper(name, paper):
    facts = facts_of(name)
    for party in parties(facts)[:3]:
        sheets = day_sheets(facts, party, stretch(facts).first, stretch(facts).last)
        pdf = read_pdf(look_ahead(facts, party, stretch(facts), paper))
        words = squeezed(pdf.text)
        assert sum(len(s.rows) for s in sheets) > 5
        for sheet in sheets:
            assert day(sheet.on) in pdf.text
            for row in sheet.rows:
                said = [row.what.removeprefix("Call "), *row.stops, *row.notes, *(k.what for k in row.looks)]
                assert [s for s in said if squeezed(s.partition(":")[2] or s) not in words] == []
                assert squeezed(row.place) in words or len(row.looks) > 1
                assert f"{row.finish:%H:%M}" in pdf.text
        assert pdf.outside == []


def test_work_is_listed_on_the_days_it_is_done_and_no_others():
    facts = facts_of("orchard-lane")
    first, last = facts.plan.data_date.date(), max(a.finish for a in facts.plan.activities).date()
    rows = [r for s in day_sheets(facts, EVERYBODY, first, last) for r in s.rows if not (r.visit or r.call)]
    expected = [d for a in facts.plan.activities if a.kind != "inspect" for d in facts.days(a)]
    assert sorted((r.start, r.finish) for r in rows) == sorted(expected)
    for activity in facts.plan.activities:
        worked = sum((finish - start).total_seconds() / 60 for start, finish in facts.days(activity))
        assert worked >= activity.work_minutes


def test_every_hold_point_stands_in_words_with_the_work_it_gates_and_who_releases_it():
    facts = facts_of("orchard-lane")
    first, last = facts.plan.data_date.date(), max(a.finish for a in facts.plan.activities).date()
    stops = [stop for s in day_sheets(facts, EVERYBODY, first, last) for row in s.rows for stop in row.stops]
    assert len(stops) == sum(len(h.gates) for h in facts.plan.holds)
    people = {p.id: p.name for p in facts.site.people}
    for hold in facts.plan.holds:
        named = [s for s in stops if facts.hold_name(hold) in s and people[hold.released_by] in s]
        assert all(s.startswith("HOLD POINT: ") for s in named)
        assert named


def test_a_witness_point_says_that_work_may_go_on_after_the_time_agreed():
    site = bundled("orchard-lane")[0]
    looks = [i.model_copy(update={"hold": "witness"}) for i in site.inspections]
    facts = planned(site.model_copy(update={"inspections": looks}))
    text = read_pdf(look_ahead(facts, EVERYBODY, stretch(facts, 3))).text
    assert "WITNESS POINT: " in text
    assert "once the time agreed has passed" in text


def test_each_page_is_numbered_and_carries_the_gravest_caution_and_the_last_all_of_them():
    facts = facts_of("lantern-street")
    pdf = read_pdf(look_ahead(facts, EVERYBODY, stretch(facts, 3)))
    total = len(pdf.pages)
    assert total > 5
    for number, page in enumerate(pdf.pages, 1):
        assert f"page {number} of {total}" in page
        assert CAUTIONS[0] in page
        assert facts.plan.site.name in page
    assert [c for c in CAUTIONS if c not in pdf.pages[-1]] == []
    assert "INVENTED DEMONSTRATION DATA" in pdf.pages[0]


def test_the_head_says_the_data_date_the_finish_and_what_is_proved():
    facts = facts_of("orchard-lane")
    first = read_pdf(look_ahead(facts, EVERYBODY, stretch(facts))).pages[0]
    finish = facts.plan.finish
    assert f"Plan finishes {day(finish)}, {finish:%H:%M}." in first
    assert "Data date Mon 1 Mar 00:00" in first
    assert "Not proved best. No plan can finish before Mon 1 Mar 00:00." in first


def test_it_is_black_on_white():
    facts = facts_of("orchard-lane")
    image = photograph(look_ahead(facts, EVERYBODY, stretch(facts)))
    colours = image.getcolors(1_000_000)
    assert colours
    assert all(r == g == b for _, (r, g, b) in colours)
    white = sum(n for n, (r, _, _) in colours if r > 250)
    assert white > 0.8 * image.width * image.height


def test_days_without_work_on_which_trench_stands_open_are_shown_to_everybody():
    facts = facts_of("orchard-lane")
    first, last = facts.plan.data_date.date(), max(a.finish for a in facts.plan.activities).date()
    idle = [s for s in day_sheets(facts, EVERYBODY, first, last) if not s.rows]
    assert idle
    assert all(s.open_ft > 0 for s in idle)
    assert "No work planned, but the trench stands open." in read_pdf(look_ahead(facts, EVERYBODY, stretch(facts))).text


@pytest.mark.parametrize("weeks", [1, 2, 3])
def test_an_empty_stretch_says_so(weeks):
    facts = facts_of("orchard-lane")
    pdf = read_pdf(look_ahead(facts, EVERYBODY, stretch(facts, weeks, after=365)))
    assert "Nothing is planned in these days." in pdf.text
    assert pdf.pages[0].count("page 1 of 1") == 1
    assert CAUTIONS[-1] in pdf.text


@pytest.mark.parametrize(
    "filler", ["W" * 160, "very long words " * 10, "<b>&amp;</i>]]> " * 9], ids=["one", "many", "marks"]
)
def test_names_of_any_length_wrap_and_nothing_is_cut_off_or_taken_for_markup(filler):
    site = renamed(bundled("orchard-lane")[0], lambda name: f"{name} {filler}".strip()[:200])
    facts = planned(site)
    for paper in ("letter", "a4"):
        pdf = read_pdf(look_ahead(facts, EVERYBODY, stretch(facts, 1), paper))
        assert pdf.outside == []
        words = squeezed(pdf.text)
        for sheet in day_sheets(facts, EVERYBODY, stretch(facts).first, stretch(facts, 1).last):
            for row in sheet.rows:
                said = [row.who, *row.stops, *(k.what for k in row.looks)]
                said += [] if row.call or len(row.looks) > 1 else [row.place]
                assert [s for s in said if squeezed(s) not in words] == []


def test_a_visit_that_looks_at_very_much_goes_on_over_pages():
    facts = facts_of("orchard-lane")
    visit = facts.plan.visits[0]
    holds = [
        facts.plan.holds[0].model_copy(update={"id": f"hold/{n}", "name": f"Look {n} " + "x y " * 60})
        for n in range(90)
    ]
    visits = [visit.model_copy(update={"covers": [h.id for h in holds]})]
    crowded = type(facts)(facts.plan.model_copy(update={"visits": visits, "holds": holds}), facts.site, facts.network)
    pdf = read_pdf(look_ahead(crowded, EVERYBODY, stretch(facts)))
    assert [n for n in range(90) if f"Look {n} x y" not in pdf.text] == []
    assert pdf.outside == []


def test_calls_stand_first_in_the_day_they_are_due_and_only_with_who_makes_them():
    facts = facts_of("orchard-lane")
    on = facts.plan.data_date + timedelta(days=2, hours=6)
    force = PlanInForce(facts.plan, facts.network, None)
    called = replace(facts, situation=situation_at(facts.site, facts.network, [], on, force))
    together = phone_calls(called.calls, on.date())
    overdue = [c for c in together if c.due[0].due_since]
    later = next(c for c in together if c.on > on.date())
    assert overdue
    assert all(c.due[0].by < on for c in overdue)
    known = {p.id: p for p in parties(called)}
    for party in (EVERYBODY, known["site-crew"]):
        sheets = {s.on: s for s in day_sheets(called, party, stretch(facts).first, stretch(facts).last)}
        first = sheets[on.date()].rows[: len(overdue)]
        assert {r.what for r in first} == {c.text for c in overdue}
        assert {r.notes[0] for r in first} == {
            "At once, due since Mon 1 Mar 15:30.",
            "At once, due since Tue 2 Mar 15:30.",
        }
        assert sheets[later.on].rows[0].call
        text = squeezed(read_pdf(look_ahead(called, party, stretch(facts))).text)
        assert squeezed(f"by 15:30 By phone CALL: {later.text.removeprefix('Call ')}") in text
        for call in overdue:
            assert squeezed(f"at once By phone CALL: {call.text.removeprefix('Call ')}") in text
    assert "CALL:" not in read_pdf(look_ahead(called, known["electrician"], stretch(facts))).text


def test_the_same_plan_gives_the_same_bytes():
    facts = facts_of("orchard-lane")
    assert look_ahead(facts, EVERYBODY, stretch(facts)) == look_ahead(facts, EVERYBODY, stretch(facts))


def test_a_trades_paper_has_its_own_work_and_what_others_finish_before_it():
    facts = facts_of("orchard-lane")
    plumber = next(p for p in parties(facts) if p.id == "plumber")
    sheets = day_sheets(facts, plumber, date(2027, 3, 1), date(2027, 4, 30))
    rows = [r for s in sheets for r in s.rows]
    assert all(r.visit or r.who == "" for r in rows)
    assert {r.what for r in rows if not r.visit} == {
        facts.what(a) for a in facts.plan.activities if a.trade == "plumber"
    }
    assert any(note.startswith("After Site crew: ") for r in rows for note in r.notes)


@pytest.mark.known
@pytest.mark.parametrize(
    ("name", "shown"),
    [
        # In WinAnsi (ISO 32000-1, annex D.2), so printed as written:
        ("Peña & Söhne", "Peña & Söhne"),
        ("€ “œuvre” Žižek", "€ “œuvre” Žižek"),
        # Not in it: the base letter of the Unicode name or decomposition.
        ("Łukasz Dvořák", "Lukasz Dvorák"),
        ("Nguyễn Văn Đức", "Nguyen Van Duc"),
        ("½ ﬁll", "½ fill"),
        ("水道\tx\x07", "?? x"),
    ],
)
def test_letters_that_the_fonts_lack_become_plain_ones(name, shown):
    assert printable(name) == shown
