"""Files that are no site: refused with a reason and a line, and nothing but BadInput is raised."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduler.errors import BadInput
from scheduler.site.files import load_site, read_site
from tests.small_site import FILE, SMALL_SITE, damaged, faults_in


def test_the_undamaged_site_reads() -> None:
    site = read_site(SMALL_SITE, file=FILE)
    assert [reach.id for reach in site.reaches] == ["R1", "R2", "R3"]
    assert (site.lines[0].route[0].from_, site.lines[0].route[0].to) == (0.0, 160.0)


WHOLE_FILE: dict[str, tuple[str, int, str]] = {
    "empty": ("", 1, "The file is empty."),
    "only a comment": ("# nothing yet\n", 1, "The file is empty."),
    "a list": ("- a\n- b\n", 1, "Found a list; expected fields such as site"),
    "a bare text": ("hello\n", 1, "Found a bare text; expected fields such as site"),
    "a tab": ("site:\n\tname: x\n", 2, "A tab is used for indentation; use spaces."),
    "an open bracket": (
        "a: [1, 2\nb: 3\n",
        2,
        "is not closed, or a comma is missing. What it belongs to begins on line 1.",
    ),
    "an open quote": ("a: 1\nb: 'x\nc: 2\n", 4, "A quote is opened and never closed."),
    "bad indentation": ("a: 1\n  b: 2\n", 2, "check the indentation"),
    "indented unlike its neighbours": ("a:\n  - b\n c: 1\n", 3, "indented differently"),
    "two documents": ("a: 1\n---\nb: 2\n", 2, "A second document starts here"),
    "a list as a field name": ("? [a]\n: b\n", 1, "A field name must be plain text."),
    "a reference to nothing": ("a: *b\n", 1, "'*b' refers to nothing"),
    "a value within itself": ("a: &x [*x]\n", 1, "'*x' refers to nothing that stands complete before it."),
    "a control character": ("a: 1\nb: \x07\n", 2, "The file holds a control character"),
    "an impossible escape": ('a: "\\UFFFFFFFF"\n', 1, "The file is not readable as YAML."),
    "too deep": ("[" * 100_000, 1, "nested more than 20 deep"),
    "too many values": ("[" + "a," * 60_000 + "]", 1, "holds more than 50000 values"),
    "far too large": (
        "# " + "x" * 2_000_000,
        1,
        "far larger than a site file can be. Found more; expected at most 1000 kB.",
    ),
}


@pytest.mark.parametrize("name", WHOLE_FILE)
def test_a_file_that_cannot_be_read_at_all_says_why_and_where(name: str) -> None:
    text, line, said = WHOLE_FILE[name]
    (finding,) = faults_in(text)
    assert finding.line == line
    assert said in str(finding)


def test_references_that_repeat_one_another_cannot_blow_up() -> None:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 10)]
    (finding,) = faults_in("\n".join(lines))
    assert finding.line == 5
    assert "more than 50000 values" in finding.text
    (finding,) = faults_in("a: &a 1\nb: [" + "*a, " * 101 + "]\n")
    assert "More than 100 '*' references" in finding.text


def test_a_file_of_nothing_but_faults_is_cut_short() -> None:
    found = faults_in(SMALL_SITE + "".join(f"k{n}: v\n" for n in range(2_000)))
    assert len(found) <= 501
    assert found[0].where == "k0"


@pytest.mark.parametrize(
    ("raw", "said", "line"),
    [
        (bytes(range(256)) * 20, "The file is not plain text in UTF-8.", 2),
        (SMALL_SITE.encode("utf-16"), "The file is not plain text in UTF-8.", 1),
        (b"\x00" * 5_000_000, "far larger than a site file can be", 1),
        (b"a: 1\n\x00\n", "The file holds a control character", 2),
    ],
)
def test_noise_in_a_file_is_refused_politely(tmp_path: Path, raw: bytes, said: str, line: int) -> None:
    path = tmp_path / "noise.yaml"
    path.write_bytes(raw)
    with pytest.raises(BadInput) as caught:
        load_site(path)
    (finding,) = caught.value.findings
    assert said in finding.text
    assert (finding.file, finding.line) == (str(path), line)


def test_a_missing_file_and_a_folder_are_named(tmp_path: Path) -> None:
    for path, said in ((tmp_path / "gone.yaml", "There is no such file."), (tmp_path, "This is a folder, not a file.")):
        with pytest.raises(BadInput) as caught:
            load_site(path)
        (finding,) = caught.value.findings
        assert (finding.text, finding.file) == (said, str(path))


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "marked.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + SMALL_SITE.encode())
    assert load_site(path) == read_site(SMALL_SITE, file=FILE)


def test_text_stays_text_whatever_it_looks_like() -> None:
    text = damaged(("id: boss", "id: 007"), ("name: R. Sample", "name: no"), ("of: Sample Ditching", "of: 12:30"))
    person = read_site(text, file=FILE).people[0]
    assert (person.id, person.name, person.of) == ("007", "no", "12:30")


def test_a_heading_with_nothing_below_it_is_an_empty_section() -> None:
    text = SMALL_SITE.split("\nbookings:")[0] + "\nbookings:\n\nlimits:\n"
    assert read_site(text, file=FILE).bookings == []


def _mutate(text: str, change: tuple[Any, ...]) -> str:
    lines = text.split("\n")
    kind, at, other = change
    i, j = at % len(lines), hash(other) % len(lines)
    if kind == "swap":
        lines[i], lines[j] = lines[j], lines[i]
    elif kind == "drop":
        del lines[i : i + 1 + j % 3]
    elif kind == "repeat":
        lines.insert(j, lines[i])
    elif kind == "indent":
        lines[i] = " " * (j % 5) + lines[i].lstrip()
    else:
        place = at % (len(text) + 1)
        return text[:place] + str(other) + text[place + (kind == "overwrite") :]
    return "\n".join(lines)


CHANGES = st.lists(
    st.tuples(
        st.sampled_from(["swap", "drop", "repeat", "indent", "insert", "overwrite", "overwrite"]),
        st.integers(0, 10_000),
        st.one_of(
            st.characters(codec="utf-8"),
            st.sampled_from(
                [":", "- ", "[", "}", "&a ", "*a", "? ", "!!int ", "|", "\t", "-1", "1e999", "null", "''", "#"]
            ),
        ),
    ),
    min_size=1,
    max_size=5,
)


@pytest.mark.property
@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(CHANGES)
def test_random_damage_raises_nothing_but_bad_input(changes: list[tuple[Any, ...]]) -> None:
    text = SMALL_SITE
    for change in changes:
        text = _mutate(text, change)
    lines = len(re.split("\r\n|[\r\n\x85\u2028\u2029]", text))  # what YAML calls a line
    assert all(f.text and f.where and f.line is not None and 1 <= f.line <= lines for f in faults_in(text))


@pytest.mark.property
@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=400))
def test_random_bytes_raise_nothing_but_bad_input(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "bytes.yaml"
    path.write_bytes(raw)
    with pytest.raises(BadInput):
        load_site(path)
