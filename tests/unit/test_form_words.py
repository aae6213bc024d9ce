"""What the editor says is in the words of its form, and what is typed there is kept and drawn."""

from __future__ import annotations

import json
import os
import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from app.components.form_fill import begun
from app.components.form_words import in_form_words, say_fault
from scheduler import bundled_sites
from scheduler.ledger import draft_shelved, shelve_draft
from scheduler.site.draft import Draft
from scheduler.site.draft_paths import drop, scalars
from scheduler.site.drawable import drawable
from scheduler.site.editing import FieldKind, fields_of, parts
from scheduler.trench import sections

SMALL = Draft.of_text(bundled_sites()["orchard-lane"].read_text(encoding="utf-8"), name="orchard-lane.yaml")
OF_A_FILE = re.compile(r"`|(?<![A-Za-z])[a-z]+_[a-z_]+|'[a-z_]+' is missing")
"""A name as only a file has it."""


def broken() -> Iterator[Draft]:
    """Yield the small site with one field taken out, or with words where a number is, for every field of it."""
    for path, value in scalars(SMALL.data):
        yield SMALL.changed(drop(SMALL.data, path), "one out")
        if value[:1].isdigit():
            yield SMALL.put(path, "-x-")
    for key in SMALL.data:
        yield SMALL.changed({k: v for k, v in SMALL.data.items() if k != key}, "one part out")


def test_no_message_names_a_field_as_a_file_does() -> None:
    told = 0
    for draft in broken():
        for fault in draft.judged()[1]:
            told += 1
            words = re.sub(r"'[^']*'", "''", say_fault(fault).replace("\\", ""))
            assert not OF_A_FILE.findall(words), words
    assert told > 300


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("The field 'bottom_width_in' is missing.", "“Bottom width” is missing."),
        (
            "mark a trade 'own: true', or name it as general_trade.",
            "mark a trade “Own” yes, or name it as “General trade”.",
        ),
        ("`before` needs backfill.compaction_test", "“Before” needs “Compaction test”"),
        ("one of yard, residential_drive", "one of yard, residential drive"),
        ("There is no trade 'my_trade'.", "There is no trade 'my_trade'."),
    ],
)
def test_fields_are_called_as_on_the_form(text: str, said: str) -> None:
    assert in_form_words(text) == said


def test_a_reach_begins_where_the_last_one_ends_and_goes_to_the_end() -> None:
    data = {"alignments": [{"id": "main", "name": "Main", "length": "50 m"}]}
    assert begun(parts()["reaches"], data)["to"] == "1+64.04"
    data["reaches"] = [{"id": "A", "alignment": "main", "from": "0+00", "to": "0+60"}]
    assert begun(parts()["reaches"], data) == {"id": "reach-1", "alignment": "main", "from": "0+60", "to": "1+64.04"}
    line = begun(parts()["lines"], data)
    assert line["route"] == [{"alignment": "main", "from": "0+00", "to": "0+60"}]
    data["lines"] = [line | {"trade": "gone", "route": [{"alignment": "main", "from": "0+10", "to": "0+20"}]}]
    assert begun(parts()["lines"], data)["route"] == data["lines"][0]["route"]
    assert "trade" not in begun(parts()["lines"], data), "no name is filled on that nothing bears"


def test_whatever_is_broken_can_be_drawn_without_what_is_broken() -> None:
    drawn = 0
    for draft in broken():
        site = drawable(draft.data)
        if site is not None and all(
            any(s.alignment == r.alignment for x in site.lines for s in x.route) for r in site.reaches
        ):
            drawn += bool(sections(site))
    assert drawn > 100


def test_a_draft_is_taken_up_by_its_key_alone_and_forgotten_in_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JOINTTRENCH_HOME", str(tmp_path))
    draft = SMALL.put(("site", "name"), "Mill <b>Road</b>")
    key = "k" * 24
    assert shelve_draft(key, draft, of="mine")
    found = draft_shelved(key)
    assert found is not None
    assert (found[0], found[1].data, found[1].original) == ("mine", draft.data, draft.original)
    for wrong in ("", "short", "../" + "k" * 24, "K" * 24 + "/x", "a" * 24):
        assert draft_shelved(wrong) is None
    kept = next(tmp_path.rglob("*.json"))
    kept.write_text(json.dumps({"of": 1}), encoding="utf-8")
    assert draft_shelved(key) is None
    os.utime(kept, (0, time.time() - 91 * 86400))
    assert shelve_draft("n" * 24, draft, of="mine")
    assert not kept.exists()


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "data").write_text("in the way", encoding="utf-8")
    monkeypatch.setenv("JOINTTRENCH_HOME", str(tmp_path))
    assert not shelve_draft("k" * 24, SMALL, of="mine")


def test_every_field_has_its_words() -> None:
    for part in parts().values():
        for field in part.fields:
            for one in (field, *(fields_of(field.record, field.place) if field.record else ())):
                assert "_" not in one.label
                assert one.kind in FieldKind
