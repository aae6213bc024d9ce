"""Parts of a site from CSV and back: every fault at once with file and line, rows changed and added, nothing lost."""

from __future__ import annotations

from pathlib import Path

import pytest

import scenarios
from scheduler import bundled_sites
from scheduler.errors import BadInput
from scheduler.site.csv_import import columns, csv_text, import_csv
from scheduler.site.draft import Draft
from scheduler.site.draft_paths import rows_at, value_at
from scheduler.site.editing import parts
from scheduler.site.files import read_text
from scheduler.units import told_in
from tests.small_site import FILE, SMALL_SITE

SMALL = Draft.of_text(SMALL_SITE, name=FILE)
SITES = [Draft.of_text(p.read_text(encoding="utf-8"), name=p.name) for p in bundled_sites().values()]
MANY = [key for key, part in parts().items() if part.many]


def faults(key: str, text: str, draft: Draft = SMALL) -> list[tuple[str, int | None, str]]:
    with pytest.raises(BadInput) as bad:
        import_csv(draft, key, text.encode(), file=f"{key}.csv")
    assert all(f.file == f"{key}.csv" for f in bad.value.findings)
    return [(f.where, f.line, f.text) for f in bad.value.findings]


@pytest.mark.parametrize("key", MANY)
@pytest.mark.parametrize("draft", SITES, ids=lambda d: d.name)
def test_a_part_written_as_csv_reads_back_equal(draft: Draft, key: str) -> None:
    text = csv_text(draft, parts()[key])
    if not rows_at(draft.data, (key,)) or "id" not in columns(parts()[key]):
        return
    done = import_csv(draft, key, text.encode(), file="x.csv")
    assert done.draft.data == draft.data
    assert (done.added, done.changed) == (0, len(rows_at(draft.data, (key,))))


def test_alignments_lines_and_bookings_come_from_csv_into_a_site() -> None:
    alignments = "id;name;length_ft;leaves.alignment;leaves.station;path\nG;Gate branch;30;M;0+40;40 0; 40 30\n"
    assert faults("alignments", alignments) == [
        ("G", 2, "The row has more cells than the header; quote a cell that holds a comma.")
    ]
    alignments = "id;name;length_ft;leaves.alignment;leaves.station;path\nG;Gate branch;30;M;0+40;'40 0\n"
    draft = import_csv(SMALL, "alignments", alignments.encode(), file="a.csv").draft
    assert draft.data["alignments"][-1]["path"] == [["40", "0"]]
    lines = (
        "id,name,kind,trade,material,size_in,route,offset_in\n"
        'G1,Gate power,power,elec,pvc40,1,"M 0+00-0+40; G 0+00 to 0+30",-4\n'
        "P1,Service,power,elec,pvc40,2,M 0+00-1+60,\n"
    )
    done = import_csv(draft, "lines", lines.encode(), file="l.csv")
    assert (done.added, done.changed) == (1, 1)
    assert [(f.file, f.line, f.rule) for f in done.later] == [("l.csv", 2, "site.no-trench")]
    assert done.draft.data["lines"][0]["cover_in"] == "38"
    assert done.draft.data["lines"][0]["name"] == "Service"
    done = import_csv(done.draft, "reaches", b"id,alignment,from,to\nR4,G,0+00,0+30\n", file="r.csv")
    bookings = b"id,of,start,firm\nB9,U1,2026-07-01 09:00,yes\n"
    draft = import_csv(done.draft, "bookings", bookings, file="b.csv").draft
    site, left = draft.judged()
    assert left == ()
    assert site.bookings[-1].firm is True
    assert [a.id for a in site.alignments] == ["M", "B", "G"]
    for _ in range(4):
        draft = draft.undone()
    assert draft.data == SMALL.data


def test_every_fault_of_a_table_of_lines_is_told_with_its_line() -> None:
    text = (
        "id,name,kind,trade,material,size_in,route,cover\n"
        "X,Gate,pwer,nobody,pvc40,-3,M 0+00-9+99,1\n"
        "\n"
        "Y,Shed,power,elec,pvc40,2,M straight on,2\n"
        "Y,Shed,power,elec,pvc40,2,M 0+00-1+00,2\n"
        ",Barn,power,elec,pvc40,2,M 0+00-1+00,2\n"
    )
    found = faults("lines", text)
    assert ("cover", 1, "Unknown column; did you mean 'cover_in'?") in found
    assert ("'X' kind", 2, "This word is not known here; did you mean 'power'?") in found
    assert ("'X' trade", 2, "There is no trade 'nobody'.") in found
    assert ("'X' size_in", 2, "The value is out of range.") in found
    assert ("'Y' route", 4, "The value does not fit.") in found
    assert ("Y", 5, "'Y' has a second row; the first is on line 4.") in found
    assert ("id", 6, "The field 'id' is missing.") in found
    assert [line for _, line, _ in found] == sorted(line for _, line, _ in found)


def test_faults_of_alignments_and_bookings_have_their_lines() -> None:
    text = "id,name,length_ft,leaves.alignment,leaves.station\nG,Gate,long,N,9+00\nM,Main,-1,,\n"
    assert faults("alignments", text) == [
        ("'G' leaves alignment", 2, "There is no alignment 'N'."),
        ("'G' length_ft", 2, "The value does not fit."),
        ("'M' length_ft", 3, "The value is out of range."),
    ]
    text = "id,of,start\nB1,U7,2026-07-01 09:00\nB2,U1,tomorrow\nB3,U1,2026-07-01 03:00\n"
    found = faults("bookings", text)
    assert ("'B1' of", 2, "There is no inspection or outside work 'U7'; did you mean 'U1'?") in found
    assert ("'B2' start", 3, "The value does not fit.") in found
    text = "id,of,start\nB3,U1,2026-07-01 03:00\n"
    assert ("'B3' start", 2, "The hours of its calendar do not hold this.") in faults("bookings", text)


def test_a_header_without_ids_or_with_a_column_twice_is_refused() -> None:
    assert ("id", 1, "The column 'id' is missing.") in faults("lines", "name,kind\nA,power\n")
    assert ("name", 1, "This column is given twice.") in faults("people", "id,name,name,role\nx,a,b,trade\n")
    assert faults("people", "id,name,role\n") == [("row", 1, "There is no row below the header.")]


def test_what_is_wrong_elsewhere_in_the_draft_keeps_no_row_out() -> None:
    draft = SMALL.put(("site", "country"), "nowhere").put(("lines", 0, "cover_in"), "-1")
    done = import_csv(draft, "people", b"id,name,role\np9,New Hand,trade\n", file="p.csv")
    assert done.added == 1
    assert done.draft.past[-1].words == "People: 1 row from p.csv"


METRIC = Path(scenarios.__file__).parent / "examples" / "metric-service.yaml"


@pytest.mark.parametrize("key", ["alignments", "reaches", "lines", "surroundings", "inspections"])
def test_a_site_in_metres_is_written_with_metric_headings_and_read_back(key: str) -> None:
    draft = Draft.of_text(read_text(METRIC), name=METRIC.name)
    text = csv_text(draft, parts()[key])
    headings = text.partition("\n")[0].split(",")
    assert not [h for h in headings if h.endswith(("_in", "_ft"))], headings
    empty = draft.changed({k: v for k, v in draft.data.items() if k != key}, "taken out")
    with told_in("metres"):
        back = import_csv(empty, key, text.encode(), file="back.csv").draft
    used = {h.split(".")[0] for h in headings}
    before = [{k: v for k, v in row.items() if k in used} for row in rows_at(draft.data, (key,))]
    assert rows_at(back.data, (key,)) == before


def test_both_names_of_a_column_are_read() -> None:
    draft = Draft.of_text(read_text(METRIC), name=METRIC.name)
    line = rows_at(draft.data, ("lines",))[0]["id"]
    for name in ("cover", "cover_in"):
        done = import_csv(draft, "lines", f"id,{name}\n{line},950 mm\n".encode(), file="lines.csv").draft
        assert value_at(done.data, ("lines", 0, "cover_in")) == "950 mm"
