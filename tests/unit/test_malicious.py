"""Input meant to hurt: refused in words or made harmless, in bounded time and memory, never a traceback."""

from __future__ import annotations

import csv
import io
import re
import time
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from scheduler import bundled_sites
from scheduler.cells import FORMULA
from scheduler.errors import BadInput
from scheduler.network.derive import derive
from scheduler.network.network_check import check_network
from scheduler.site.csv_import import MOST_ROWS, csv_text, import_csv
from scheduler.site.draft import Draft
from scheduler.site.draft_paths import scalars
from scheduler.site.draft_words import field_at
from scheduler.site.editing import FieldKind, parts
from scheduler.site.files import load_site, read_site
from scheduler.site.templates import Start, new_site
from scheduler.site.yamltext import MAX_ALIASES, MAX_BYTES, MAX_DEPTH
from scheduler.trench.layout_check import placed_findings
from tests.small_site import FILE, SMALL_SITE
from tests.unit.test_site_draft_form import VIEWS, editor, widget, words

ORCHARD = bundled_sites()["orchard-lane"]
SMALL = Draft.of_text(SMALL_SITE, name=FILE)
EVIL = "<script>alert(1)</script> **bold** [link](https://evil.example) :material/delete: $x$"
HUGE = 50 * 1024 * 1024
BOUND_S = 60.0
"""Far above what a refusal takes, far below what a bomb would."""


# YAML

LAUGHS = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{new}: &{new} [{', '.join([f'*{old}'] * 9)}]\n" for old, new in zip("abcdefgh", "bcdefghi", strict=True)
)
"""Nine to the ninth power values if it were written out: the "billion laughs" of XML, in YAML."""
BOMBS = {
    "aliases that multiply": (LAUGHS, "holds more than"),
    "aliases without end": ("a: &a x\nb: [" + "*a, " * (MAX_ALIASES + 1) + "x]\n", "references; write the values out"),
    "an alias of itself": ("a: &a [*a]\n", "refers to nothing that stands complete before it"),
    "lists in lists": ("[" * 400_000, f"nested more than {MAX_DEPTH} deep"),
    "records in records": ("{a: " * 200_000, f"nested more than {MAX_DEPTH} deep"),
    "a value without end": ("a: " + "x" * (MAX_BYTES + 1), "far larger than a site file can be"),
    "code in a tag": ("a: !!python/object/apply:os.system [ls]\n", "means nothing here; remove it"),
    "control characters": ("site: \x00\x07\n", "control character"),
    "two documents": ("a: 1\n---\nb: 2\n", "A second document starts here"),
    "only a text": ("hello", "no record of named fields"),
}


@pytest.mark.parametrize(("text", "said"), BOMBS.values(), ids=BOMBS)
def test_hostile_yaml_is_refused_in_words_by_reader_and_editor(text: str, said: str) -> None:
    began = time.monotonic()
    with pytest.raises(BadInput, match=said):
        read_site(text, file="x.yaml")
    with pytest.raises(BadInput, match=said):
        Draft.of_text(text, name="x.yaml")
    assert time.monotonic() - began < BOUND_S


def test_many_faulty_records_are_judged_in_bounded_time() -> None:
    text = SMALL_SITE.replace("people:\n", "people:\n" + "  - {id: x, phone: 1}\n" * 8000)
    began = time.monotonic()
    with pytest.raises(BadInput) as bad:
        read_site(text, file=FILE)
    assert time.monotonic() - began < BOUND_S
    assert "There are more faults than the first" in str(bad.value)


EXTREMES = ("1e308", "-1e308", "1e-308", "9" * 5000, "nan", "inf", "1e6", "0.001", "0", "-0", "0x10", "1_000")


def test_no_number_breaks_the_program() -> None:
    draft = Draft.of_text(ORCHARD.read_text(encoding="utf-8"), name="x.yaml")
    places = {}
    for path, _ in scalars(draft.data):
        field = field_at(path)
        if field is not None and field.kind in (FieldKind.NUMBER, FieldKind.WHOLE):
            places.setdefault(field.place, path)
    assert len(places) > 40
    for path in places.values():
        for text in EXTREMES:
            site, faults = draft.put(path, text).judged()
            if site is None:
                assert faults
            else:
                placed_findings(site)
                check_network(derive(site))


@pytest.mark.parametrize("text", ["9" * 400 + "+00", "9" * 5000, "1e999", "-1", "1+6x", "", "²"])
def test_no_station_breaks_the_program(text: str) -> None:
    _, faults = SMALL.put(("structures", 1, "station"), text).judged()
    assert [f.path for f in faults] == [("structures", 1, "station")]


# files and names


def test_a_file_of_50_mb_is_refused_without_being_read_whole(tmp_path: Path) -> None:
    path = tmp_path / "huge.yaml"
    with path.open("wb") as stream:
        stream.truncate(HUGE)
    with pytest.raises(BadInput, match="far larger than a site file can be"):
        load_site(path)
    with pytest.raises(BadInput, match="far too large"):
        import_csv(SMALL, "lines", bytes(HUGE), file="huge.csv")


NAMES = ("../../etc/passwd", "..\\..\\windows\\win.ini", "/etc/passwd", "a\0b.yaml", ".", "..", "", "x" * 5000, EVIL)


@pytest.mark.parametrize("name", NAMES)
def test_an_upload_stays_in_a_folder_of_its_own_whatever_its_name(name: str) -> None:
    def script(name: str) -> None:
        import streamlit as st

        from app.session import keep_upload, uploads

        st.session_state["kept"] = keep_upload(name, b"site: x")
        st.session_state["path"] = str(uploads()[st.session_state["kept"]])

    at = AppTest.from_function(script, args=(name,)).run()
    assert not at.exception
    path = Path(at.session_state["path"])
    assert path.read_bytes() == b"site: x"
    assert path.parent.name.startswith("jointtrench-")
    assert path.resolve() == path
    assert set(at.session_state["kept"]) <= set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-")
    assert 0 < len(at.session_state["kept"]) <= 40


@pytest.mark.parametrize("name", NAMES)
def test_a_new_site_has_a_plain_file_name(name: str) -> None:
    from datetime import date

    draft = new_site("bare", Start(name, date(2027, 3, 1)))
    assert Path(draft.name).name == draft.name
    assert set(draft.name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-.")
    assert len(draft.name) <= 45


@pytest.mark.parametrize(
    "sheet", ["../secret.yaml", "/etc/passwd", "..", "a\\b.yaml", "c:x.yaml", ".hidden", "a\0.yaml"]
)
def test_a_rule_sheet_cannot_reach_elsewhere(sheet: str) -> None:
    site, faults = SMALL.put(("rule_sheets",), [sheet]).judged()
    assert site is None
    assert [(f.path, f.text) for f in faults] == [(("rule_sheets", 0), "Give the file name alone, without folders.")]


# CSV


@pytest.mark.parametrize("start", FORMULA)
def test_a_name_that_looks_like_a_formula_is_harmless_in_csv_and_reads_back(start: str) -> None:
    name = f"{start}cmd|' /C calc'!A0"
    draft = SMALL.put(("alignments", 0, "name"), name)
    text = csv_text(draft, parts()["alignments"])
    cell = next(csv.DictReader(io.StringIO(text)))["name"]
    assert cell.startswith("'") or not cell.startswith(FORMULA)
    back = import_csv(draft, "alignments", text.encode(), file="a.csv").draft
    assert back.data["alignments"][0]["name"].split() == name.split()


@pytest.mark.parametrize("cell", ["=HYPERLINK(1)", "@SUM(1)", "＝1+1"])
def test_a_formula_in_a_csv_is_refused_with_its_line(cell: str) -> None:
    with pytest.raises(BadInput) as bad:
        import_csv(SMALL, "alignments", f"id,name,length_ft\nM,{cell},160\n".encode(), file="a.csv")
    assert [(f.file, f.line, f.text) for f in bad.value.findings] == [("a.csv", 2, "The cell is a formula.")]


HOSTILE_CSV = {
    "not text": b"\xff\xfe\x00id",
    "a null character": b"id,name\nx,\x00",
    "nothing": b"",
    "only a header": b"id,name,length_ft\n",
    "one endless cell": b'id,name,length_ft\nx,"' + b"a" * 200_000,
    "too many rows": b"id,name,length_ft\n" + b"".join(b"r%d,n,1\n" % i for i in range(MOST_ROWS + 1)),
    "too many columns": b"id," * 3000 + b"\nx\n",
    "an endless number": b"id,name,length_ft\nM,n," + b"9" * 5000 + b"\n",
}


@pytest.mark.parametrize("content", HOSTILE_CSV.values(), ids=HOSTILE_CSV)
def test_hostile_csv_is_refused_in_words_and_changes_nothing(content: bytes) -> None:
    began = time.monotonic()
    with pytest.raises(BadInput) as bad:
        import_csv(SMALL, "alignments", content, file="a.csv")
    assert all(f.file == "a.csv" and f.line and f.text for f in bad.value.findings)
    assert time.monotonic() - began < BOUND_S


# names on the page


def test_names_that_try_tricks_stay_words_in_the_editor(tmp_path: Path) -> None:
    draft = SMALL
    for path, _ in scalars(SMALL.data):
        if path[-1] in ("name", "because", "of", "authority", "criteria", "number"):
            draft = draft.put(path, EVIL)
    draft = draft.put(("bookings", 0, "of"), EVIL).put(("lines", 0, "feeds"), EVIL)
    draft = draft.put(("lines", 0, "test", EVIL), EVIL)
    file = tmp_path / "evil.yaml"
    file.write_text(draft.text(), encoding="utf-8")
    for key in parts():
        at = editor(file, part=key)
        assert not at.exception
        _harmless(words(at))
    for view in VIEWS:
        at = editor(file)
        at.get("button_group")[0].set_value(view).run()
        assert not at.exception
        _harmless(words(at) + "\n".join(b.label for b in at.button))
    at = editor(file, part="site")
    widget(at, ("site", "name"), "text").set_value(EVIL + "x").run()
    _harmless(words(at) + at.button("undo").help)


def _harmless(said: str) -> None:
    """Every trick has lost a sign to a backslash or to a joiner."""
    for trick in (r"<script", r"\*\*bold", r"\[link\]\(https:", r":material/delete:", r"\$x\$"):
        assert not re.search(r"(?<!\\)" + trick, said), trick
