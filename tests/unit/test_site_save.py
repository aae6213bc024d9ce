"""Saving a site: it reads back equal, and comments, order and everything unchanged stay as written."""

from __future__ import annotations

import difflib
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduler.site.draft import Draft
from scheduler.site.files import load_site, read_site
from scheduler.site.save import written_anew
from scheduler.site.site_record import Site
from scheduler.site.yamlwriting import inline
from scheduler.whole_files import write_whole
from tests.small_site import FILE, SMALL_SITE

SITE = read_site(SMALL_SITE, file=FILE)


def changed(site: Site, section: str, index: int, **fields: Any) -> Site:
    rows = list(getattr(site, section))
    rows[index] = rows[index].model_copy(update=fields)
    return site.model_copy(update={section: rows})


def saved(site: Site, original: str = SMALL_SITE) -> str:
    """Return the text in which the editor would save a site that it opened as `original`."""
    draft = Draft.of_text(original, name=FILE)
    data = edited(draft.data, as_data(read_site(original, file=FILE)), as_data(site))
    text = replace(draft, data=data).text()
    assert read_site(text, file=FILE) == site
    return text


def as_data(site: Site) -> Any:
    return site.model_dump(mode="json", by_alias=True, exclude_defaults=True)


def as_typed(value: Any) -> Any:
    """Return a value with its numbers and words as a person types them into the editor."""
    if isinstance(value, dict):
        return {k: as_typed(v) for k, v in value.items()}
    if isinstance(value, list):
        return [as_typed(v) for v in value]
    return value if isinstance(value, str) else inline(value)


def edited(written: Any, old: Any, new: Any) -> Any:
    """Return what is written for `old` after the edits that make it say `new`; what stays is left as written."""
    if old == new:
        return written
    if isinstance(new, dict) and isinstance(written, dict):
        kept = {k: edited(v, old.get(k), new.get(k)) for k, v in written.items() if k in new or k not in old}
        return kept | {k: as_typed(v) for k, v in new.items() if k not in written}
    if isinstance(new, list) and isinstance(written, list):
        same = {repr(o): w for o, w in zip(old, written, strict=True)}
        rows = [
            same.get(repr(row)) or (edited(written[k], old[k], row) if len(new) == len(old) else as_typed(row))
            for k, row in enumerate(new)
        ]
        return rows or None
    return as_typed(new)


def difference(text: str, original: str = SMALL_SITE) -> list[str]:
    lines = difflib.unified_diff(original.splitlines(), text.splitlines(), n=0, lineterm="")
    return [line for line in lines if not line.startswith(("---", "+++", "@@"))]


def comments(text: str) -> list[str]:
    return [line.split("#", 1)[1] for line in text.splitlines() if "#" in line]


def test_a_new_file_reads_back_equal_and_is_written_as_a_person_would() -> None:
    text = written_anew(Draft.of_text(SMALL_SITE, name=FILE).data, "")
    assert read_site(text, file=FILE) == SITE
    for line in (
        "  - {id: R2, alignment: M, from: 1+00, to: 1+60, bottom_width_in: 36, soil: B}",
        "    weekly: [mon-fri 07:00-15:30]",
        '    weekly: ["mon,wed,fri 08:00-11:00"]',
        "  first_day: 2026-06-08",
        "  - {id: BK1, of: U1, start: 2026-06-30 09:00}",
        "    leaves: {alignment: M, station: 1+00}",
    ):
        assert line in text.splitlines()
    assert max(map(len, text.splitlines())) <= 112


def test_an_unchanged_site_is_saved_letter_for_letter() -> None:
    assert saved(SITE) == SMALL_SITE


def test_one_changed_value_changes_one_line() -> None:
    assert difference(saved(changed(SITE, "structures", 1, station=150.0))) == [
        "-  - {id: S2, kind: panel, name: House panel, alignment: M, station: 1+60, lines: [P1]}",
        "+  - {id: S2, kind: panel, name: House panel, alignment: M, station: 1+50, lines: [P1]}",
    ]
    keep_open = changed(SITE, "keep_open", 0, to=8.5)
    assert difference(saved(keep_open)) == [
        "-    to: 0+06   # the loose stretch by the pole",
        "+    to: 0+08.5   # the loose stretch by the pole",
    ]


def test_fields_come_and_go_without_disturbing_their_neighbours() -> None:
    site = changed(SITE, "lines", 2, cover_in=None, bends=[], feeds="the den, upstairs")
    assert difference(saved(site)) == ["-    cover_in: 20", '+    feeds: "the den, upstairs"']
    site = changed(SITE, "people", 0, phone="555-0100")
    assert difference(saved(site))[1] == (
        "+  - {id: boss, name: R. Sample, role: general_contractor, of: Sample Ditching, phone: 555-0100}"
    )


def test_records_come_and_go_where_they_belong() -> None:
    added = SITE.trades[0].model_copy(update={"id": "pipe", "name": "Pipe crew"})
    site = SITE.model_copy(update={"trades": [SITE.trades[0], added, SITE.trades[1]], "bookings": []})
    text = saved(site)
    assert difference(text) == [
        "+  - {id: pipe, name: Pipe crew, own: true, calendar: crew, day_rate: 900}",
        "-bookings:",
        "-  - {id: BK1, of: U1, start: 2026-06-30 09:00}",
    ]
    assert saved(SITE, text).count("bookings:") == 1
    assert comments(text) == comments(SMALL_SITE)


def test_records_in_another_order_keep_their_own_text() -> None:
    text = saved(SITE.model_copy(update={"lines": SITE.lines[::-1]}))
    assert sorted(text.splitlines()) == sorted(SMALL_SITE.splitlines())


def test_windows_line_ends_and_a_missing_last_one_are_kept() -> None:
    original = SMALL_SITE.replace("\n", "\r\n").rstrip()
    site = changed(SITE, "trades", 0, crews=2)
    site = site.model_copy(update={"durations": {"R1/dig": 4.0}})
    text = saved(site, original)
    assert text.count("\n") == text.count("\r\n") == original.count("\n") + 2
    assert "\r\ndurations: {R1/dig: 4}\r\n" in text


def test_a_value_shared_by_reference_is_written_out_and_the_header_stays() -> None:
    original = SMALL_SITE.replace("weekly: [mon-fri 07:00-15:30]", "weekly: &week [mon-fri 07:00-15:30]")
    original = original.replace("weekly: [mon-thu 08:00-16:00]", "weekly: *week")
    site = changed(read_site(original, file=FILE), "calendars", 0, weekly=["mon-fri 06:00-15:30"])
    text = saved(site, original)
    assert text.startswith("# Invented test data")


def test_a_save_replaces_the_file_in_one_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "site.yaml"
    path.write_text(SMALL_SITE, encoding="utf-8")
    path.chmod(0o640)
    site = changed(SITE, "trades", 0, crews=2)
    write_whole(path, saved(site))
    assert load_site(path) == site
    assert path.stat().st_mode & 0o777 == 0o640

    def full(*_: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(OSError, match="no space left"):
        write_whole(path, SMALL_SITE)
    assert load_site(path) == site
    assert [p.name for p in tmp_path.iterdir()] == ["site.yaml"]


TEXTS = st.one_of(
    st.text(st.characters(codec="utf-8"), min_size=1, max_size=30),
    st.sampled_from(
        [
            "null",
            "~",
            "true",
            "- a",
            "a: b",
            "a #b",
            "[x",
            "'",
            '"',
            "\\",
            "&a",
            "*a",
            "!t",
            "12:30",
            " x ",
            "\n",
            "é\u2028",
        ]
    ),
)


@pytest.mark.property
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(TEXTS, TEXTS)
def test_any_text_survives_in_a_short_record_and_a_long_one(short: str, long: str) -> None:
    site = changed(changed(SITE, "people", 1, name=short), "keep_open", 0, because=long)
    assert comments(saved(site))[:1] == comments(SMALL_SITE)[:1]
    assert read_site(written_anew(as_typed(as_data(site)), ""), file=FILE) == site


EDITS: list[Any] = [
    lambda s: changed(s, "alignments", 0, name="The long run"),
    lambda s: changed(s, "lines", 0, cover_in=41.25, count=3),
    lambda s: changed(s, "lines", 1, test=None, offset_in=None),
    lambda s: changed(s, "lines", 3, voltage_v=None, gfci_20a=True),
    lambda s: changed(s, "trades", 1, lays=[], notice_days=0),
    lambda s: changed(s, "inspections", 0, kinds=["power", "water"], pass_valid_days=3.5),
    lambda s: changed(s, "calendars", 1, weekly=["mon 08:00-11:00", "wed 08:00-11:15", "fri 08:00-11:00"]),
    lambda s: changed(s, "outside_work", 0, after=[], at=None, cost=10.0),
    lambda s: s.model_copy(update={"bookings": []}),
    lambda s: s.model_copy(update={"people": [s.people[2], *s.people[:2]]}),
    lambda s: s.model_copy(update={"equipment": [*s.equipment, s.equipment[0].model_copy(update={"id": "second"})]}),
    lambda s: s.model_copy(update={"locate_tickets": []}),
    lambda s: s.model_copy(update={"durations": {**s.durations, f"R{len(s.durations)}/dig": 2.0}}),
    lambda s: s.model_copy(update={"limits": s.limits.model_copy(update={"rain_days": [], "open_trench_ft": None})}),
    lambda s: s.model_copy(update={"limits": s.limits.model_copy(update={"swing_ft": 12.0})}),
    lambda s: s.model_copy(update={"site": s.site.model_copy(update={"target_finish": None, "state": None})}),
]


@pytest.mark.property
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.sampled_from(range(len(EDITS))), min_size=1, max_size=5, unique=True))
def test_edits_one_after_another_keep_every_comment(edits: list[int]) -> None:
    site, text = SITE, SMALL_SITE
    for k in edits:
        site = EDITS[k](site)
        text = saved(site, text)
    assert comments(text) == comments(SMALL_SITE)
