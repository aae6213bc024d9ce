"""What used to pass in silence: places merged under one number, requirements that could not bite, half-kept ones."""

from __future__ import annotations

import pytest

import scheduler
from scheduler.findings import Severity
from scheduler.trench.layout_check import check_layout
from scheduler.trench.looked_at import look
from tests.trenches import broken, line, trench
from tests.unit.test_trench_sheets import POWER, with_sheet

REACHES = [
    {"id": "drive", "alignment": "main", "from": 0, "to": 30, "soil": "B", "place": "residential_drive"},
    {"id": "lawn", "alignment": "main", "from": 30, "to": 100, "soil": "B"},
]
PAGE = "Test sheet, 2026, page"
SPUR = {"id": "spur", "name": "Spur", "length_ft": 40, "leaves": {"alignment": "main", "station": 50}}


def test_places_with_other_numbers_are_findings_of_their_own(tmp_path):
    entries = [
        "{rule: cover-power, value: 42, places: [residential_drive]}",
        "{rule: cover-power, value: 30}",
    ]
    found = check_layout(with_sheet(tmp_path, entries, POWER | {"cover_in": 24}, reaches=REACHES))
    assert {(f.where, f.required) for f in found} == {
        ("Main trench, 0+00 to 0+30", "at least 42 in"),
        ("Main trench, 0+30 to 1+00", "at least 30 in"),
    }


def test_a_pull_line_may_be_asked_for_by_place(tmp_path):
    entries = ["{rule: pull-line-strength, value: 500, places: [residential_drive]}"]
    found = broken(with_sheet(tmp_path, entries, POWER | {"pull_line_lb": 200}, reaches=REACHES))
    assert found["pull-line-strength"].where == "Main trench, 0+00 to 0+30"


def test_how_full_a_conduit_is_may_be_limited_by_reach():
    full = POWER | {"conductors": [{"count": 3, "size": "4/0"}]}
    rules = [{"rule": "conduit-fill", "value": 10, "source": "the utility's letter", "where": ["drive"]}]
    found = broken(trench(full, rules=rules, reaches=REACHES))
    assert found["conduit-fill"].where == "Main trench, 0+00 to 0+30"


def test_inspections_may_be_asked_for_by_place(tmp_path):
    entries = ["{rule: inspect-stages, value: [lines_laid], places: [residential_drive], who: The City}"]
    assert "inspect-stages" in broken(with_sheet(tmp_path, entries, POWER, reaches=REACHES))
    assert not broken(with_sheet(tmp_path, entries, POWER))


def inspection(**more):
    return {
        "id": "look", "name": "Look", "authority": "The City", "stage": "lines_laid", "calendar": "days",
    } | more  # fmt: skip


def test_an_inspection_of_a_spur_or_one_that_only_witnesses_is_not_the_one_asked_for(tmp_path):
    entries = ["{rule: inspect-stages, value: [lines_laid], kinds: [power], who: The City}"]
    both = [{"alignment": "main", "from": 0, "to": 50}, {"alignment": "spur", "from": 0, "to": 40}]
    reaches = [*REACHES, {"id": "side", "alignment": "spur", "from": 0, "to": 40, "soil": "B"}]
    site = trench(alignments=[{"id": "main", "name": "Main trench", "length_ft": 100}, SPUR], reaches=reaches)

    def asked(*looks):
        sections = {"alignments": site.alignments, "reaches": site.reaches, "inspections": list(looks)}
        rows = {k: [r if isinstance(r, dict) else r.model_dump(by_alias=True) for r in v] for k, v in sections.items()}
        return broken(with_sheet(tmp_path, entries, POWER | {"route": both}, **rows))

    assert not asked(inspection())
    assert not asked(inspection(alignments=["main"]), inspection(id="other", alignments=["spur"]))
    assert "inspect-stages" in asked(inspection(alignments=["spur"]))
    assert "inspect-stages" in asked(inspection(hold="witness"))


def test_protection_does_not_let_two_lines_lie_at_one_depth():
    water = line("w", "water", "pvc_pressure", 4, cover_in=36, protected_crossing=True)

    def marked(depth_in):
        return [{"id": "m", "kind": "sewer", "alignment": "main", "station": 50, "depth_in": depth_in, "size_in": 4}]

    assert not broken(trench(water, existing=marked(41)))
    assert broken(trench(water, existing=marked(38)))["cross-water-sewer"].found == "both at one depth"


def test_nobody_digs_where_no_ticket_covers():
    alignments = [{"id": "main", "name": "Main trench", "length_ft": 100}, SPUR]
    reaches = [*REACHES, {"id": "side", "alignment": "spur", "from": 0, "to": 40, "soil": "B"}]
    ticket = {"id": "t", "called": "2027-02-22T08:00"}

    def found(*tickets):
        site = trench(POWER, alignments=alignments, reaches=reaches, locate_tickets=list(tickets))
        return [(f.rule, f.severity, f.where) for f in check_layout(site)]

    main = ("locate-ticket", Severity.STOP, "Main trench, 0+00 to 1+00")
    spur = ("locate-ticket", Severity.STOP, "Spur, 0+00 to 0+40")
    assert found(ticket) == []
    assert found() == [main, spur]
    assert found(ticket | {"alignments": ["main"]}) == [spur]
    assert found(ticket | {"alignments": ["main"]}, ticket | {"id": "u", "alignments": ["spur"]}) == []


def test_an_alignment_without_a_ticket_is_pointed_at_in_the_file(tmp_path):
    text = scheduler.bundled_sites()["orchard-lane"].read_text(encoding="utf-8")
    narrow = text.replace("    renewals: 4", "    renewals: 4\n    alignments: [main, pole-branch]")
    file = tmp_path / "site.yaml"
    file.write_text(narrow, encoding="utf-8")
    (found,) = scheduler.check(scheduler.load(file))
    assert (found.rule, found.severity, found.file) == ("locate-ticket", "stop", str(file))
    assert narrow.splitlines()[(found.line or 0) - 1] == "  - id: garden-branch"
    assert "Nobody digs along Garden branch" in found.text


def test_a_depth_without_a_cover_does_not_leave_the_line_high():
    found = broken(trench(POWER, reach={"depth_in": 42}))["bedding-most"]
    assert (found.severity, found.where) == ("fix", "Main trench, 0+00 to 1+00")
    assert found.found == "18 in of cover over 21.6 in of bedding"
    assert "up to 35.6 in" in found.remedy
    assert not broken(trench(POWER | {"cover_in": 35}, reach={"depth_in": 42}))
    assert not broken(trench(POWER, reach={"depth_in": 28}))


POLE = {"id": "pole", "kind": "pole", "name": "Pole", "alignment": "main", "station": 100, "lines": ["p"]}
WORK = {
    "id": "tie", "name": "Tie in", "by": "The Utility", "kind": "tie_in", "calendar": "days", "lines": ["p"],
}  # fmt: skip


def test_a_tie_in_without_a_stretch_kept_open_is_told(tmp_path):
    found = broken(trench(POWER, structures=[POLE], outside_work=[WORK]))["keep-open-length"]
    assert (found.where, found.required) == ("Main trench, 1+00", "at least 6 ft")
    stretch = {"id": "k", "alignment": "main", "from": 94, "to": 100, "until": "tie", "because": "tie-in"}
    assert not broken(trench(POWER, structures=[POLE], outside_work=[WORK], keep_open=[stretch]))
    covered = {"structures": [POLE], "outside_work": [WORK | {"lines_state": "covered"}]}
    assert not broken(trench(POWER, **covered)), "the utility works on covered lines"
    sheet = with_sheet(tmp_path, ["{rule: keep-open-length, value: 10, kinds: [power]}"], POWER, **covered)
    assert broken(sheet)["keep-open-length"].required == "at least 10 ft", "its own sheet says otherwise"


def beside(aside_ft, *lines, back=False):
    """Return two trenches side by side, the second drawn in the other direction with `back`."""
    path = [[0, aside_ft], [100, aside_ft]]
    alignments = [
        {"id": "main", "name": "Main trench", "length_ft": 100, "path": [[0, 0], [100, 0]]},
        {"id": "second", "name": "Second trench", "length_ft": 100, "path": path[::-1] if back else path},
    ]
    reach = {"soil": "B", "bottom_width_in": 24}
    reaches = [reach | {"id": a, "alignment": a, "from": 0, "to": 100} for a in ("main", "second")]
    return trench(*lines, alignments=alignments, reaches=reaches)


@pytest.mark.parametrize("back", [False, True])
def test_trenches_side_by_side_leave_ground_between_them(back):
    second = POWER | {"id": "q", "name": "q", "route": [{"alignment": "second", "from": 20, "to": 100}]}
    found = broken(beside(-3.5, POWER, second, back=back))
    assert found.keys() == {"trenches-apart"}
    assert found["trenches-apart"].found == "1.5 ft between the edges"
    assert not broken(beside(-4, POWER, second, back=back))


@pytest.mark.parametrize(("back", "where"), [(False, "0+20 to 1+00"), (True, "0+00 to 0+80")])
def test_lines_of_two_trenches_keep_apart(back, where):
    water = line("w", "water", "pvc_pressure", 4, cover_in=36)
    sewer = line("s", "sewer", "pvc_sewer", 4, cover_in=36, route=[{"alignment": "second", "from": 20, "to": 100}])
    found = broken(beside(-4.5, water, sewer, back=back))["apart-water-sewer"]
    assert (found.where, found.severity) == (f"Main trench, {where}", "stop")
    assert found.found == "49.5 in clear"
    above = broken(beside(-4.5, water, sewer | {"cover_in": 56}, back=back))
    assert above.keys() == {"trenches-apart"}, "water 12 in above the sewer may lie beside it"
    assert not broken(beside(-6, water, sewer, back=back))


def test_a_site_drawn_with_too_many_bends_is_answered_soon_and_says_what_was_left_out():
    path = [[k / 20, 0.5 * (k % 2)] for k in range(2000)]
    site = beside(-1, POWER)
    wild = [a.model_copy(update={"path": path}) for a in site.alignments]
    site = site.model_copy(update={"alignments": wild})
    assert not broken(site)
    assert [q.about for q in look(site).unknown if "side by side was not looked at" in q.text] == ["the site"]


def test_a_branch_is_not_beside_the_trench_it_leaves_until_it_turns_along_it():
    def found(path):
        alignments = [
            {"id": "main", "name": "Main trench", "length_ft": 100, "path": [[0, 0], [100, 0]]},
            SPUR | {"path": path},
        ]
        reaches = [*REACHES, {"id": "side", "alignment": "spur", "from": 0, "to": 40, "soil": "B"}]
        return broken(trench(POWER, alignments=alignments, reaches=reaches))

    assert not found([[50, 0], [50, 40]])
    assert not found([[50, 0], [88, 6]])
    assert found([[50, 0], [50, 2], [88, 2]])["trenches-apart"].where == "Main trench, 0+50 to 0+88"


def test_an_entry_that_can_never_apply_is_told_with_its_line(tmp_path):
    entries = ["{rule: cover-power, value: 20, kinds: [water]}", "{rule: sweep-radius, value: 24, kinds: [gas]}"]
    found = check_layout(with_sheet(tmp_path, entries, POWER))
    assert [(f.rule, f.found, f.line) for f in found] == [("local-rule", "water", 6), ("local-rule", "gas", 7)]
    assert all(f.file.endswith("local.yaml") for f in found)


def test_an_owner_written_otherwise_than_in_the_site_is_told(tmp_path):
    ours = POWER | {"owner": "Sorrel Valley Power", "cover_in": 40}
    entries = ["{rule: cover-power, value: 30, owners: [Sorel Valley power, Sorrel Valley Gas]}"]
    (found,) = check_layout(with_sheet(tmp_path, entries, ours))
    assert found.found == "'Sorel Valley power'"
    assert "did you mean 'Sorrel Valley Power'" in found.text


def test_two_sheets_that_disagree_are_both_named(tmp_path):
    entries = [
        "{rule: conduit-material, value: [pvc40, pvc80], uses: [service], source: page 1}",
        "{rule: conduit-material, value: [pvc40, rmc], places: [residential_drive], source: page 2}",
    ]
    found = broken(with_sheet(tmp_path, entries, POWER, reaches=REACHES))["conduit-material"]
    assert found.where == "Main trench, 0+00 to 0+30"
    assert found.found == "pvc40, pvc80 by Test sheet, 2026, page 1; pvc40, rmc by Test sheet, 2026, page 2"
    assert found.line == 7
    assert not broken(with_sheet(tmp_path, entries, POWER))


def test_two_sheets_that_disagree_on_a_zone_of_the_fill_are_both_named_with_the_zone(tmp_path):
    entries = [
        "{rule: fill-material, value: [sand], zones: [pipe_zone], source: page 1}",
        "{rule: fill-material, value: [gravel], surfaces: [turf], source: page 2}",
        "{rule: fill-strength, value: 150, zones: [above], source: page 3}",
        "{rule: fill-strength-most, value: 120, source: page 4}",
    ]
    found = check_layout(with_sheet(tmp_path, entries, POWER))
    told = {f.text.partition(":")[0]: (f.found, f.line) for f in found if "Two requirements" in f.text}
    assert told == {
        "Two requirements disagree on the pipe zone": (f"sand by {PAGE} 1; gravel by {PAGE} 2", 7),
        "Two requirements cannot both hold for the fill above the pipe zone": (
            f"at least 150 psi by {PAGE} 3; at most 120 psi by {PAGE} 4",
            9,
        ),
    }


def test_what_the_trench_cannot_keep_is_told_once_and_not_for_each_line_in_it(tmp_path):
    entries = ["{rule: width-least, value: 40}", "{rule: width-most, value: 30}"]
    lines = POWER | {"offset_in": -8}, line("c", "communications", "pvc40", 2, offset_in=8)
    (found,) = [f for f in check_layout(with_sheet(tmp_path, entries, *lines)) if "cannot both hold" in f.text]
    assert found.text == "Two requirements cannot both hold for the trench: 'width-least' and 'width-most'."


@pytest.mark.parametrize("words", [("yes", "no"), ("no", "yes")])
def test_yes_of_one_entry_counts_before_no_of_another_whichever_is_read_last(tmp_path, words):
    entries = [
        f"{{rule: ribbon, value: {words[0]}, uses: [feeder], source: page 1}}",
        f"{{rule: ribbon, value: {words[1]}, places: [yard], source: page 2}}",
    ]
    bare = line("c", "communications", "pvc40", 2, warning_ribbon=False)
    found = check_layout(with_sheet(tmp_path, entries, bare))
    assert {f.text for f in found} >= {"c has no warning ribbon."}
    (both,) = [f for f in found if "disagree" in f.text]
    assert both.found == f"{words[0]} by {PAGE} 1; {words[1]} by {PAGE} 2"
    assert both.required == "one of the two; until somebody decides, yes counts"


def test_a_size_asked_for_a_tracer_wire_counts_where_a_wire_is_laid_though_nobody_asks_for_one(tmp_path):
    entries = ["{rule: tracer-size, value: 12, kinds: [water], source: page 1}"]
    water = line("w", "water", "pe", 1, tracer_wire_awg=14)
    found = broken(with_sheet(tmp_path, entries, water))["tracer-size"]
    assert (found.found, found.required) == ("14 AWG", "12 AWG or heavier")
    assert not broken(trench(water | {"tracer_wire_awg": 20})), "the gas code's size is for gas"
    assert not broken(with_sheet(tmp_path, entries, line("w", "water", "pe", 1)))


def test_an_entry_whose_exception_takes_out_all_there_is_says_so(tmp_path):
    entries = ["{rule: cover-power, value: 40, except: {places: [yard], uses: [service]}}"]
    (idle,) = look(with_sheet(tmp_path, entries, POWER, line("w", "water", "pe", 1, offset_in=20))).idle
    assert idle.why == "what it excepts is all there is here that it would apply to"


def test_a_local_value_that_cannot_be_is_pointed_at_in_the_site_file(tmp_path):
    text = scheduler.bundled_sites()["orchard-lane"].read_text(encoding="utf-8")
    file = tmp_path / "site.yaml"
    file.write_text(text + "rules:\n  - {rule: cover-powr, value: 30, source: page 1}\n", encoding="utf-8")
    (found,) = [f for f in scheduler.check(scheduler.load(file)) if f.rule == "local-rule"]
    assert (found.where, found.file, found.line) == ("rules[1]", str(file), text.count("\n") + 2)
