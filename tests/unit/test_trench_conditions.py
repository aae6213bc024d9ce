"""What an entry of a sheet can be limited to, which of several entries counts, and where two cannot both hold."""

from __future__ import annotations

import pytest

from scheduler.trench.layout_check import check_layout
from scheduler.trench.looked_at import look
from scheduler.trench.section import sections
from tests.trenches import broken, line, trench
from tests.unit.test_trench_sheets import HEAD, POWER, faults, with_sheet
from tests.unit.test_trench_silence import REACHES

SHALLOW = POWER | {"cover_in": 24}
MARKED = [{"id": "m", "kind": "gas", "alignment": "main", "station": 60, "depth_in": 60}]


def cover_places(tmp_path, entries, power=SHALLOW, **more):
    """Return where cover is too little, with what is asked, by a sheet with the given entries for cover-power."""
    rules = [f"{{rule: cover-power, {entry}}}" for entry in entries]
    found = check_layout(with_sheet(tmp_path, rules, power, **more))
    assert {f.rule for f in found} <= {"cover-power"}
    return {(f.where.partition(", ")[2], f.required) for f in found}


@pytest.mark.parametrize(
    ("condition", "where"),
    [
        ("size_from: 2, size_to: 3", "0+00 to 1+00"),
        ("size_from: 50 mm", "0+00 to 1+00"),
        ("size_from: 2.5", ""),
        ("size_to: 1.5", ""),
        ("amperes_from: 200, amperes_to: 400", "0+00 to 1+00"),
        ("amperes_from: 320", ""),
        ("surfaces: [asphalt]", "0+00 to 0+30"),
        ("soils: [C]", "0+30 to 1+00"),
        ("soils: [C], surfaces: [asphalt]", ""),
        ("part: ends", "0+00 to 0+05 and 0+95 to 1+00"),
        ("part: ends, part_ft: 10", "0+00 to 0+10 and 0+90 to 1+00"),
        ("part: ends, part_ft: 3 m", "0+00 to 0+09.84 and 0+90.16 to 1+00"),
        ("part: crossing, part_ft: 3", "0+57 to 0+63"),
        ("part: middle", "0+05 to 0+55 and 0+65 to 0+95"),
        ("encased: [concrete]", "0+20 to 0+40"),
        ("encased: [none]", "0+00 to 0+20 and 0+40 to 1+00"),
        ("encased: [sleeve]", ""),
        ("except: {surfaces: [asphalt]}", "0+30 to 1+00"),
        ("except: [{surfaces: [asphalt]}, {part: ends, part_ft: 20}]", "0+30 to 0+80"),
        ("except: {kinds: [power], uses: [service]}", ""),
    ],
)
def test_an_entry_bites_only_where_its_conditions_hold(tmp_path, condition, where):
    power = SHALLOW | {
        "amperes": 200,
        "encased": [{"alignment": "main", "from": 20, "to": 40, "shell": "concrete"}],
    }
    reaches = [REACHES[0] | {"surface": "asphalt"}, REACHES[1] | {"soil": "C"}]
    found = cover_places(tmp_path, [f"value: 36, {condition}"], power, reaches=reaches, existing=MARKED)
    assert found == ({(where, "at least 36 in")} if where else set())


def test_a_line_without_a_cover_lies_deep_enough_for_every_part_of_its_run(tmp_path):
    site = with_sheet(tmp_path, ["{rule: cover-power, value: 48, part: ends}", "{rule: cover-power, value: 30}"], POWER)
    assert sections(site)["r"].placed[0].top_in == 48


def test_within_one_sheet_the_more_special_entry_counts_even_where_it_asks_for_less(tmp_path):
    general, special = "value: 36", "value: 26, places: [residential_drive]"
    asked = {("0+00 to 0+30", "at least 26 in"), ("0+30 to 1+00", "at least 36 in")}
    assert cover_places(tmp_path, [general, special], reaches=REACHES) == asked
    assert cover_places(tmp_path, [special, general], reaches=REACHES) == asked
    narrow = "value: 25, places: [residential_drive], size_to: 2"
    found = cover_places(tmp_path, [narrow, special, general], reaches=REACHES)
    assert found == {("0+00 to 0+30", "at least 25 in"), ("0+30 to 1+00", "at least 36 in")}


def test_an_entry_with_an_exception_is_the_more_special_of_two_alike(tmp_path):
    relaxed = "value: 26, except: {places: [residential_drive]}"
    asked = {("0+00 to 0+30", "at least 36 in"), ("0+30 to 1+00", "at least 26 in")}
    assert cover_places(tmp_path, ["value: 36", relaxed], reaches=REACHES) == asked
    assert cover_places(tmp_path, [relaxed, "value: 36"], reaches=REACHES) == asked
    wider = "value: 28, except: [{places: [residential_drive]}, {uses: [main]}]"
    found = cover_places(tmp_path, [relaxed, wider], reaches=REACHES)
    assert found == {("0+30 to 1+00", "at least 28 in")}


def test_an_exception_that_lies_elsewhere_makes_an_entry_no_less_general(tmp_path):
    general, special = "value: 36, except: {places: [street]}", "value: 26, places: [residential_drive]"
    asked = {("0+00 to 0+30", "at least 26 in"), ("0+30 to 1+00", "at least 36 in")}
    assert cover_places(tmp_path, [general, special], reaches=REACHES) == asked


def test_the_site_file_may_ask_for_a_number_that_only_sheets_ask_for_elsewhere():
    rules = [{"rule": "size-least", "value": 3, "source": "the utility's letter", "where": ["drive"]}]
    found = broken(trench(POWER, rules=rules, reaches=REACHES))["size-least"]
    assert (found.where, found.found, found.required) == ("Main trench, 0+00 to 0+30", "2 in", "at least 3 in")


def test_of_entries_neither_of_which_is_the_more_special_the_strictest_counts(tmp_path):
    entries = ["value: 28, places: [residential_drive]", "value: 36, uses: [service]"]
    assert cover_places(tmp_path, entries, reaches=REACHES) == {("0+00 to 1+00", "at least 36 in")}


def test_between_sheets_the_strictest_counts_however_special(tmp_path):
    for name, entry in (("one", "value: 36"), ("two", "value: 26, places: [residential_drive]")):
        text = HEAD.replace("Test sheet", f"Sheet {name}") + f"  - {{rule: cover-power, {entry}}}\n"
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    site = trench(SHALLOW, rule_sheets=["one.yaml", "two.yaml"], reaches=REACHES).lying_in(tmp_path)
    assert broken(site)["cover-power"].required == "at least 36 in"


def test_a_special_entry_for_one_line_does_not_relax_a_trench_for_the_others(tmp_path):
    entries = ["{rule: width-least, value: 30}", "{rule: width-least, value: 20, kinds: [power]}"]
    water = line("w", "water", "pex", 1, offset_in=8, cover_in=24)
    narrow = {"reach": {"bottom_width_in": 24}}
    assert not broken(with_sheet(tmp_path, entries, POWER, **narrow))
    both = broken(with_sheet(tmp_path, entries, POWER | {"offset_in": -8}, water, **narrow))
    assert both["width-lines"].required == "at least 30 in"


def test_a_special_entry_for_one_of_a_pair_is_one_for_the_pair(tmp_path):
    entries = ["{rule: apart-power-water, value: 24}", "{rule: apart-power-water, value: 12, uses: [service]}"]
    lines = [POWER | {"offset_in": -9, "cover_in": 24}, line("w", "water", "pex", 1, offset_in=8, cover_in=24)]
    assert not broken(with_sheet(tmp_path, entries, *lines))
    feeder = lines[0] | {"use": "feeder"}
    assert "apart-power-water" in broken(with_sheet(tmp_path, entries, feeder, lines[1]))


def test_where_two_requirements_cannot_both_hold_both_are_named_with_the_place(tmp_path):
    entries = [
        "{rule: cover-power, value: 36, source: page 1}",
        "{rule: cover-most, value: 30, places: [residential_drive], source: page 2}",
    ]
    found = check_layout(with_sheet(tmp_path, entries, POWER, reaches=REACHES))
    (both,) = [f for f in found if "cannot both hold" in f.text]
    assert both.where == "Main trench, 0+00 to 0+30"
    assert both.found == "at least 36 in by Test sheet, 2026, page 1; at most 30 in by Test sheet, 2026, page 2"
    assert both.line == 7
    assert not [f for f in check_layout(with_sheet(tmp_path, entries, POWER)) if "both hold" in f.text]


def test_a_sheet_that_asks_for_less_than_the_code_at_most_is_told(tmp_path):
    found = check_layout(with_sheet(tmp_path, ["{rule: cover-most, value: 300 mm, source: page 2}"], POWER))
    (both,) = [f for f in found if "cannot both hold" in f.text]
    assert "at least 18 in by NFPA 70" in both.found
    assert "at most 300 mm (11.8 in) by Test sheet" in both.found


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ("{rule: cover-power, value: 30, size_from: 4, size_to: 2}", "no number is both"),
        ("{rule: cover-power, value: 30, amperes_from: 400, amperes_to: 200}", "no number is both"),
        ("{rule: width-least, value: 30, part: ends}", "asked of whole reaches"),
        ("{rule: width-least, value: 30, encased: [sleeve]}", "asked of whole reaches"),
        ("{rule: cover-power, value: 30, zones: [above]}", "not about the fill"),
        ("{rule: cover-power, value: 30, uses: [service], except: {uses: [service, main]}}", "takes out all"),
        ("{rule: cover-power, value: 30, except: {kinds: [power]}}", "takes out all"),
        ("{rule: cover-power, value: 30, except: {owners: [Custommer]}}", "did you mean 'customer'"),
    ],
)
def test_an_entry_that_can_never_bite_is_a_finding_at_its_line(tmp_path, entry, words):
    found = broken(with_sheet(tmp_path, [entry], POWER | {"cover_in": 40}))["local-rule"]
    assert words in found.text
    assert (found.file, found.line) == (str(tmp_path / "local.yaml"), 6)


def test_conditions_that_nobody_knows_are_refused_with_their_line():
    text = HEAD + (
        "  - {rule: cover-power, value: 30, surface: [asphalt]}\n"
        "  - {rule: cover-power, value: 30, part: start}\n"
        "  - {rule: cover-power, value: 30, size_from: 50 kPa}\n"
        "  - {rule: cover-power, value: 900 kPa}\n"
        "  - {rule: cover-power, value: 30, except: {place: [yard]}}\n"
        "  - {rule: cover-power, value: 900 mm}\n"
    )
    assert faults(text) == {
        ("site.unknown-field", 6), ("site.value", 7), ("site.value", 8), ("sheet.value", 9), ("site.unknown-field", 10),
    }  # fmt: skip


def test_a_requirement_by_amperes_is_told_where_they_are_not_given(tmp_path):
    site = with_sheet(tmp_path, ["{rule: cover-power, value: 36, amperes_from: 320, source: page 9}"], SHALLOW)
    (question,) = [q for q in look(site).unknown if "cannot be checked" in q.text]
    assert (question.about, question.fill_in) == ("p", "`amperes` of the line")
    assert "'cover-power' of Test sheet, 2026, page 9" in question.text
    (idle,) = look(site).idle
    assert idle.why == "there is no line rated for such amperes"


def test_a_value_in_millimetres_is_shown_as_written_with_inches_beside(tmp_path):
    found = broken(with_sheet(tmp_path, ["{rule: cover-power, value: 900 mm}"], SHALLOW))["cover-power"]
    assert found.required == "at least 900 mm (35.4 in)"
    assert found.found == "610 mm (24 in) of cover"


PERMIT = {"id": "row", "kind": "permit", "by": "the city"}
GATE = {
    "id": "granted", "name": "Permit granted", "by": "The City", "calendar": "days", "hours": 1, "before": "dig",
    "gate": True, "once": True, "in_trench": False,
}  # fmt: skip


@pytest.mark.parametrize(
    ("permits", "steps", "found"),
    [
        ([], [], "no permit by The City under `permits`"),
        ([PERMIT], [], ""),
        ([PERMIT | {"kind": "meeting"}], [], "no permit by The City under `permits`"),
        ([PERMIT | {"step": "granted"}], [GATE], ""),
        ([PERMIT | {"step": "granted"}], [GATE | {"gate": False}], "'row' is not granted, and its step is no gate"),
        ([PERMIT | {"step": "granted"}], [GATE | {"before": "fill"}], "'row' is not granted, and its step is no gate"),
    ],
)
def test_a_permit_is_granted_or_the_dig_waits_for_it(tmp_path, permits, steps, found):
    entries = ["{rule: before-dig, value: [permit], who: The City}"]
    site = with_sheet(tmp_path, entries, POWER, permits=permits, own_work=steps)
    findings = broken(site)
    assert found in findings["before-dig"].found if found else not findings


def test_permits_of_several_sheets_are_all_asked_for(tmp_path):
    entries = [
        "{rule: before-dig, value: [permit], who: The City}",
        "{rule: before-dig, value: [utility_inspection, route_agreement], who: The Utility}",
    ]
    found = check_layout(with_sheet(tmp_path, entries, POWER, permits=[PERMIT]))
    assert {f.required for f in found} == {"a utility inspection by The Utility", "a route agreement by The Utility"}
    assert not look(with_sheet(tmp_path, entries, POWER, permits=[PERMIT])).idle


def test_a_requirement_in_words_or_without_its_fact_is_told_by_name(tmp_path):
    entries = [
        "{rule: by-hand, value: The lid is painted green., source: page 1}",
        "{rule: fill-stone, value: 20 mm, zones: [pipe_zone], source: page 2}",
        "{rule: test-psi, value: 150, source: page 3}",
    ]
    tested = POWER | {"test": {"kind": "pressure"}}
    looked = look(with_sheet(tmp_path, entries, tested))
    told = {q.text: q.fill_in for q in looked.unknown if "cannot be checked" in q.text}
    assert "'by-hand' of Test sheet, 2026, page 1 cannot be checked: The lid is painted green." in told
    assert "`stone_in` of the `pipe_zone` row under `zones` of `backfill`" in told.values()
    assert "`pressure_psi` of the line's test" in told.values()
    assert "could not be known" in looked.verdict(())
    assert not looked.idle


def test_a_clearance_to_things_that_nobody_has_written_down_is_told(tmp_path):
    entries = ["{rule: clear-septic, value: 3 m, kinds: [power], source: page 4}"]
    unsaid = look(with_sheet(tmp_path, entries, POWER)).unknown
    assert [q.fill_in for q in unsaid if "'clear-septic' of Test sheet, 2026, page 4 cannot be checked" in q.text] == [
        "`surroundings`; `surroundings: []` where nothing is near"
    ]
    assert not [q for q in look(with_sheet(tmp_path, entries, POWER, surroundings=[])).unknown if "clear" in q.text]
    tank = {"id": "tank", "what": "septic", "alignment": "main", "from": 40, "distance_ft": 6}
    near = broken(with_sheet(tmp_path, entries, POWER | {"offset_in": 0}, surroundings=[tank]))["clear-septic"]
    assert (near.where, near.required) == ("Main trench, 0+40", "at least 3 m (9.8 ft)")
