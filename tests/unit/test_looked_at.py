"""A layout check says what it looked at: nothing found is not the same as nothing asked."""

from __future__ import annotations

from dataclasses import replace

import pytest

import scheduler
from scheduler.cli.looked import looked_at as told
from scheduler.cli.main import main
from scheduler.trench import Book, alike
from scheduler.trench.layout_check import check_layout
from scheduler.trench.looked_at import by_line, look
from scheduler.trench.sheets import find_sheet
from tests.trenches import line, trench
from tests.unit.test_trench_sheets import POWER, with_sheet
from tests.unit.test_trench_silence import REACHES

WHOLE = POWER | {"conductors": [{"count": 3, "size": "2"}]}
SEEN = {
    "id": "look", "name": "Look", "authority": "The City", "stage": "lines_laid", "calendar": "days",
}  # fmt: skip
TIE = {
    "id": "tie", "name": "Tie in", "by": "The Utility", "kind": "tie_in", "calendar": "days", "lines": ["p"],
}  # fmt: skip
KNOWN = {
    "inspections": [SEEN], "outside_work": [TIE], "surroundings": [], "reach": {"spoil_room_ft": 20},
    "site_work": {"hauling": True},
}  # fmt: skip


def questions(found):
    return {text: names for (text, _), names in alike(found).items()}


def test_three_words_only_when_all_is_asked_known_and_kept():
    site = trench(WHOLE, **KNOWN)
    looked = look(site)
    assert check_layout(site) == []
    assert looked.verdict(check_layout(site)) == "Everything asked, kept."
    broken = trench(WHOLE | {"cover_in": 6}, **KNOWN)
    assert look(broken).verdict(check_layout(broken)) == "1 finding on the layout."


def test_a_site_of_which_nothing_was_asked_says_so():
    site = trench(line("w", "water", "pex", 1, use="service"), locate_tickets=[])
    looked = look(site)
    assert questions(looked.uncovered) == {
        "No locate ticket covers it.": ("Main trench",),
        "No test is made of it.": ("w",),
        "Nobody inspects it before it is covered.": ("w",),
        "No work of others connects the service.": ("w",),
        "Nothing in the file says: spoil hauled and material brought, photographs and measured covers, connections at "
        "both ends of wet lines, disinfection.": ("the site",),
        "Nothing says what stands beside the trench or hangs over it; no clearance to that was looked at.": (
            "the site",
        ),
    }
    assert questions(looked.unknown) == {"The room for spoil is not given; it is taken to fit.": ("r",)}
    assert looked.verdict(()) == (
        "What was asked is kept, but 1 thing could not be known and 6 things nothing in the file covers."
    )


def test_one_field_of_site_work_is_told_to_switch_on_all_of_it():
    looked = look(trench(WHOLE))
    (fill_in,) = (q.fill_in for q in looked.uncovered if "spoil hauled" in q.text)
    assert "which plans all of these, not only hauling; `false` leaves one out" in fill_in


def test_fields_left_out_are_told_with_what_to_fill_in():
    riser = {"id": "s", "kind": "riser", "name": "Riser", "alignment": "main", "station": 0, "lines": ["p"]}
    box = {"id": "b", "kind": "pull_box", "name": "Box", "alignment": "main", "station": 50, "lines": ["p"]}
    pole = {"id": "o", "kind": "pole", "name": "Pole", "alignment": "main", "station": 100}
    marked = [{"id": "m", "kind": "gas", "alignment": "main", "station": 40}]
    bare = line("p", "power", "pvc40", 2)
    looked = look(
        trench(
            bare,
            site={"frost_depth_in": None},
            structures=[riser, box, pole],
            existing=marked,
            reach={"soil": "unknown"},
        )
    )
    fields = {g.fill_in.split("`")[1] for g in looked.unknown}
    assert fields == {
        "frost_depth_in", "soil", "spoil_room_ft", "voltage_v", "conductors", "depth_in", "size_in", "riser_height_ft",
        "exposed_run_ft",
    }  # fmt: skip
    assert "A line ends at the pole and no riser takes it up." in questions(looked.uncovered)


def test_every_rule_is_told_with_its_value_and_whose_it_is(tmp_path):
    entries = ["{rule: cover-power, value: 30, places: [residential_drive], source: page 3}"]
    rules = [{"rule": "sweep-radius", "value": 30, "source": "agreed", "where": ["lawn"]}]
    bends = [{"alignment": "main", "station": s, "degrees": 45, "radius_in": 36} for s in (20, 60)]
    site = with_sheet(tmp_path, entries, POWER | {"bends": bends}, rules=rules, reaches=REACHES)
    of = {(a.rule, a.reach): (a.value, a.whose) for a in look(site).applied if a.lines}
    assert of["cover-power", "drive"] == ("30 in", "sheet")
    assert of["cover-power", "lawn"] == ("18 in", "built-in")
    assert of["sweep-radius", "drive"] == ("9.5 in", "built-in")
    assert of["sweep-radius", "lawn"] == ("30 in", "site file")
    assert "cover-power 30 in (sheet: Test sheet, 2026, page 3) in drive" in " ".join(told(site, look(site)).split())


def test_entries_that_applied_nowhere_are_told_with_the_reason(tmp_path):
    entries = [
        "{rule: cover-power, value: 30, places: [street]}",
        "{rule: cover-power, value: 30, uses: [spare]}",
        "{rule: cover-power, value: 24}",
        "{rule: cover-power, value: 36}",
        "{rule: box-gap, value: 24}",
        "{rule: inspect-stages, value: [final], owners: [Somebody else]}",
    ]
    idle = look(with_sheet(tmp_path, entries, POWER)).idle
    assert [(e.line, e.why.partition(":")[0]) for e in idle] == [
        (6, "there is no reach in place street"),
        (7, "there is no line used as spare"),
        (8, "another value counts wherever it applies"),
        (10, "there is nothing here that the rule is about"),
        (11, "there is no line of owner Somebody else"),
    ]


def test_a_reach_has_its_own_share(tmp_path):
    case = scheduler.load(scheduler.bundled_sites()["orchard-lane"])
    here = scheduler.looked_at(case, reach="pole-foot")
    assert {a.reach for a in here.applied} == {"pole-foot"}
    assert len(here.applied) < len(scheduler.looked_at(case).applied)
    assert here.uncovered == ()
    assert questions(here.unknown) == {"The room for spoil is not given; it is taken to fit.": ("pole-foot",)}


@pytest.mark.parametrize("name", ["orchard-lane", "lantern-street"])
def test_every_line_of_a_bundled_site_and_every_entry_of_its_sheet_is_accounted_for(name):
    case = scheduler.load(scheduler.bundled_sites()[name])
    looked = scheduler.looked_at(case)
    grouped = by_line(case.site, looked)
    assert sorted(n for names in grouped for n in names) == sorted(line.name for line in case.site.lines)
    sources = {a.source for a in looked.applied} | {e.source for e in looked.idle}
    assert {s.source for s in Book(case.site).from_sheets} <= sources


def test_the_command_ends_with_what_was_looked_at(capsys):
    assert main(["check", str(scheduler.bundled_sites()["orchard-lane"])]) == 0
    out = capsys.readouterr().out
    heads = [
        "What was asked is kept, but",
        "What was looked at",
        "Entries that applied nowhere",
        "What could not be known",
        "What nothing in the site file covers",
        "Trenches kill.",
    ]
    assert [out.index(h) for h in heads] == sorted(out.index(h) for h in heads)
    sheet = find_sheet("sorrel-power.yaml", folder=None).read_text(encoding="utf-8").splitlines()
    number = next(k for k, words in enumerate(sheet, 1) if "conduit-material" in words and "[street]" in words)
    assert f"sorrel-power.yaml:{number}: conduit-material" in out


def test_what_was_looked_at_can_be_compared():
    site = trench(WHOLE, **KNOWN)
    assert look(site) == look(site)
    assert replace(look(site), applied=()) != look(site)
