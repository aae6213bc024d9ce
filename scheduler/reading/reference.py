"""The reference: every field of a site file, every rule and the examples, as one page of Markdown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

import scenarios
from scheduler.reading.catalogue import CatalogueEntry, catalogue
from scheduler.reading.fields_at import fields_in, fields_of_record, plain_help
from scheduler.site.editing import LOOSE, Field, SitePart, parts
from scheduler.trench.sheets import RuleSheet

EXAMPLES = ("garden-lights", "water-service", "street-crossing", "workshop-power", "workshop-sheet")
"""Site files, and a rule sheet that the last of them names, as they stand in the reference."""
_START = """\
# Site files and rules

Every field of a site file, every field of a rule sheet, and every rule, with examples. `python -m scheduler.reading`
writes this page from the program itself; a change made by hand is lost.

**Trenches kill.** The competent person on site, the authority having jurisdiction, the utility's own standard and
licensed trades decide; local rules override every value on this page.

## How a site file is written

A site file is YAML: `key: value`, records indented by spaces or in braces, lists with `-` or in brackets. It has the
parts below, each once, in any order; only those marked *needed* must be there. `jointtrench new FILE` begins one,
`jointtrench check FILE` tells every fault with its line, `jointtrench plan FILE` plans it.

- **Stations** are feet along an alignment from its own 0+00: `1+60` is 160 ft. With three digits after the plus they
  are metres: `0+048.8` is 48.8 m from 0+000.
- **Days** are written `2027-03-01`, **moments** `2027-03-01 08:00` in the site's time zone, **hours** `07:00-15:30`.
- **Units** stand at the end of a name: `_in` inches, `_ft` feet, `_hours`, `_days`. Money is in what the file counts.
  A length, pressure, force, volume or rate may be written in another unit, with it: `cover_in: 600 mm`,
  `length_ft: 61 m`, `pressure_psi: 1000 kPa`, `bed_cy_per_hour: 4 m3/h`; so may a station, `48.8 m`. Where the value
  has its unit, the name needs none: `cover: 600 mm`, `length: 61 m`, `bed_per_hour: 4 m3/h`; in place of
  `feet_per_hour` and `feet_per_visit` then stand `length_per_hour` and `length_per_visit`.
- **A site in metres** has `units: metres` under `site`. Everything is then told in metres and millimetres, on screen,
  on paper and in tables, and a station or a coordinate without a unit is refused. Nominal sizes may be given by metric
  designator (`size: 53 mm` of conduit is trade size 2) or DN (`size: 50 mm` of pipe). Money by length stays by the
  foot (`exposure_per_ft_night`), and in plan.json, which is for programs, numbers stay in feet.
- **An id** is a short name that other records refer to. Letters, digits, `-`, `_` and `.`, at most 40 of them.
- A line that begins with `#` is a comment.

An editor that knows the YAML language server completes names and marks mistakes while you type when the file begins
with the line `# yaml-language-server: $schema=site.schema.json`, and `jointtrench schema --out site.schema.json` has
put the schema beside it.
"""
_LAYOUT = """\
## Rules of the layout

`jointtrench rules WORD` tells one of them with the place to change it. The last column says in short where another
value may be given: *file*, under `rules` in the site file, and in a sheet; *sheet*, in a sheet only; *no*, nowhere, for
it is geometry, or for people to settle. Of several sheets the strictest counts; the site file wins over them.
"""
_SHEETS = """\
## Rule sheets

A sheet lies beside the site file, which names it under `rule_sheets`. Each entry names a rule, its value, and what it
applies to: every condition given must hold, and none of those under `except`.

- **Which entry counts.** Within one sheet an entry whose conditions imply another's counts in its place, even where it
  asks for less: `{rule: cover-power, value: 24, encased: [concrete]}` beside `{rule: cover-power, value: 36}`. Of
  entries neither of which is the more special, and of several sheets, the strictest counts. Inspections, permits and
  neighbours that several entries ask for are all asked for. Two requirements that cannot both hold are a finding.
- **Units.** An amount may have its unit: `900 mm`, `0.9 m`, `3 ft`, `150 kPa`, `30 min`; without one it is in the
  rule's. It is shown as it was written, with the other unit beside it.
- **What cannot be checked** is told by its name: a requirement whose fact the site file leaves out, and one in words
  only, `{rule: by-hand, value: "The lid is painted green."}`.

Its fields:
"""
_RULE_HEAD = (
    "| rule | what it says | value | needs to know | source | change |",
    "| --- | --- | --- | --- | --- | --- |",
)


def examples() -> dict[str, str]:
    """Return the text of each example by the name of its file."""
    folder = Path(scenarios.__file__).parent / "examples"
    return {f"{name}.yaml": (folder / f"{name}.yaml").read_text(encoding="utf-8") for name in EXAMPLES}


def reference_text() -> str:
    """Return the whole reference, in Markdown."""
    blocks = [_START, *_examples(), "## The parts of a site file\n", *map(_part, parts().values())]
    return "\n".join([*blocks, *_sheets(), *_rules()])


def _examples() -> Iterator[str]:
    yield "## Examples\n\nAll of them are invented. Each is loaded, checked and planned by the project's tests.\n"
    for name, text in examples().items():
        yield f"`{name}`\n\n```yaml\n{text}```\n"


def _part(part: SitePart) -> str:
    many = "a list of records" if part.many else "one record"
    where = "Fields of the file itself" if part.key == LOOSE else f"`{part.key}`: {many}"
    head = f"### {part.label}\n\n{where}{', needed' if part.required else ''}. {part.help}\n"
    return head + "\n" + _table(fields_in(part), inside=part.key)


def _table(rows: Iterable[tuple[str, Field]], *, inside: str) -> str:
    lines = ["| field | what it is | what to write | if left out |", "| --- | --- | --- | --- |"]
    for place, field in rows:
        name = place.removeprefix(f"{inside}.")
        about = plain_help(field) or field.label
        unit = f" [{field.unit}]" if field.unit else ""
        lines.append(_row(f"`{name}`", about + unit, _expected(field), _left_out(field)))
    return "\n".join(lines) + "\n"


def _expected(field: Field) -> str:
    ids = " or ".join(f"`{part}`" for part in field.names_in)
    if not ids:
        return field.expected
    return f"ids from {ids}" if field.expected.startswith("a list") else f"an id from {ids}"


def _left_out(field: Field) -> str:
    if field.required:
        return "*needed*"
    return field.if_empty or field.default or "nothing"


def _sheets() -> Iterator[str]:
    yield _SHEETS
    yield _table(fields_of_record(RuleSheet), inside="")


def _rules() -> Iterator[str]:
    layout = [entry for entry in catalogue() if entry.of == "layout"]
    dates = [entry for entry in catalogue() if entry.of == "dates"]
    rates = [entry for entry in catalogue() if entry.of == "rates"]
    yield _LAYOUT
    yield _rule_table(layout)
    yield "## Rules of dates\n\nEach holds by what the fields named beside it say.\n"
    yield _rule_table(dates)
    yield "## Rates\n\nHow fast work goes where no trade, machine or line says it of itself.\n"
    yield _rule_table(rates)


def _rule_table(entries: Iterable[CatalogueEntry]) -> str:
    lines = [
        "| rule | what it says | value | needs to know | source | change |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for entry in entries:
        needs = ", ".join(f"`{place}`" for place in entry.needs)
        lines.append(_row(f"`{entry.id}`", entry.sentence, entry.value, needs, entry.source, entry.changed_in))
    return "\n".join(lines) + "\n"


def _row(*cells: str) -> str:
    return "| " + " | ".join(" ".join(cell.split()).replace("|", "\\|") for cell in cells) + " |"
