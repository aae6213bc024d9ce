"""Local rule sheets: a city's, a utility's or an inspector's own requirements, read from YAML."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from importlib import resources
from pathlib import Path, PurePath
from typing import Annotated, Any, get_args

from pydantic import BeforeValidator, Field, PrivateAttr, ValidationError, WithJsonSchema

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.site.fault_wording import shape_faults
from scheduler.site.faults import Fault, nearest
from scheduler.site.fields import Record, Text
from scheduler.site.files import read_text
from scheduler.site.filling import FillMaterial
from scheduler.site.ground import LineKind, LineTest, Material, Shell, Structure
from scheduler.site.people import Inspection, Permit
from scheduler.site.site_record import Site
from scheduler.site.yamltext import read_yaml, whole_file
from scheduler.trench.conditions import Conditions, Exceptions
from scheduler.trench.register import RULES
from scheduler.trench.rule import Form, LayoutRule
from scheduler.units import parse_amount, split_amount

STAGES: tuple[str, ...] = get_args(Inspection.model_fields["stage"].annotation)
_WORDS: dict[Form, tuple[str, ...]] = {
    "materials": get_args(Material),
    "kinds": get_args(LineKind),
    "stages": STAGES,
    "shells": tuple(s for s in get_args(Shell) if s != "none"),
    "fills": get_args(FillMaterial),
    "tests": get_args(LineTest.model_fields["kind"].annotation),
    "structures": get_args(Structure.model_fields["kind"].annotation),
    "permits": get_args(Permit.model_fields["kind"].annotation),
}
_YES = {"true": 1.0, "yes": 1.0, "false": 0.0, "no": 0.0}


def _as_words(value: Any) -> Any:
    """Take one value, or a list of them, as texts."""
    if isinstance(value, (list, tuple)):
        return [str(v) for v in value]
    return value if value is None or isinstance(value, dict) else [str(value)]


_ONE = [{"type": "string"}, {"type": "number"}, {"type": "boolean"}]
ONE_OR_MORE = WithJsonSchema({"anyOf": [*_ONE, {"type": "array", "items": {"anyOf": _ONE}}]})
"""What an editor is told of a value: one, or a list of them."""


class SheetEntry(Conditions):
    """One requirement of a sheet: a rule of the register, its value here, and what it applies to."""

    rule: Text
    """Its name in the register, as `jointtrench rules` lists them."""
    value: Annotated[list[Text], BeforeValidator(_as_words), Field(min_length=1, max_length=30), ONE_OR_MORE]
    """A number, yes or no, or a list of words or depths, as the rule asks. A number may have its unit: `900 mm`."""
    except_: Exceptions = Field(default=[], alias="except")
    """What it does not apply to: one set of such conditions, or several, each of which is enough."""
    who: Text | None = None
    """Who asks or inspects; None: the sheet's own author."""
    source: Text | None = None
    """Section or page; needed where the value asks for less than the built-in one."""
    because: Text | None = None
    """Why it asks for that."""

    _file: str = PrivateAttr(default="")
    _line: int | None = PrivateAttr(default=None)

    @property
    def file(self) -> str:
        """The file it was read from, or ''."""
        return self._file

    @property
    def line(self) -> int | None:
        """Its line in that file, counted from 1."""
        return self._line

    def implies(self, other: SheetEntry, *, known: Sequence[LineKind]) -> bool:
        """Tell whether wherever this entry holds the other one holds too; `known` are the kinds that the rule is for.

        What the other one excepts must be excepted here too, or lie outside what this one is for.
        """
        return self.within(other, known=known) and all(
            self.apart_from(out) or any(out.within(mine, known=known) for mine in self.except_) for out in other.except_
        )

    @property
    def items(self) -> tuple[str, ...]:
        """The value as a list, where the rule takes one; depths in the unit of the rule."""
        rule = RULES[self.rule]
        if rule.form in ("number", "yes"):
            return ()
        if rule.form == "depths":
            return tuple(str(parse_amount(v, rule.unit)) for v in self.value)
        return tuple(self.value)

    @property
    def number(self) -> float:
        """The value as a number in the unit of the rule: 1 or 0 for yes or no, the length of a list."""
        rule = RULES[self.rule]
        if rule.form == "yes":
            return _YES[self.value[0].lower()]
        return parse_amount(self.value[0], rule.unit) if rule.form == "number" else float(len(self.value))

    @property
    def written(self) -> str:
        """The amount as it is written, where it has a unit of its own."""
        rule = RULES[self.rule]
        own = split_amount(self.value[0])[1] if rule.form in ("number", "depths") else ""
        return self.value[0] if own and own != rule.unit else ""


class RuleSheet(Record):
    """A local rule sheet."""

    format: Annotated[int, Field(ge=1, le=1)] = 1
    name: Text
    who: Text
    """Who publishes it."""
    edition: Text
    source: Text
    """The document it stands for, and where to get it."""
    invented: bool = False
    entries: Annotated[list[SheetEntry], Field(min_length=1)]

    def cited(self, entry: SheetEntry) -> str:
        """Return the source of an entry as printed beside a finding."""
        return f"{self.name}, {self.edition}" + (f", {entry.source}" if entry.source else "")


def read_sheet(text: str, *, file: str) -> RuleSheet:
    """Read the text of a rule sheet; `file` is the name to show beside each fault.

    Raises BadInput with every fault, each with its line.
    """
    document = read_yaml(text, file=file)
    if not isinstance(document.data, dict):
        said = "The file is empty." if document.data is None else "The file has no named fields."
        raise BadInput(
            [whole_file(file, "sheet.not-a-sheet", said, required="a rule sheet: name, who, edition, entries")]
        )
    faults = list(document.faults)
    try:
        RuleSheet.model_validate(document.data)
    except ValidationError as error:
        faults.extend(shape_faults(error, RuleSheet))
    rows = document.data.get("entries")
    for index, row in enumerate(rows if isinstance(rows, list) else []):
        if isinstance(row, dict):
            faults.extend(_entry_faults(index, row))
    if faults:
        findings = dict.fromkeys(document.finding(fault) for fault in faults)
        raise BadInput(sorted(findings, key=lambda f: f.line or 0))
    sheet = RuleSheet.model_validate(document.data)
    for index, entry in enumerate(sheet.entries):
        entry._file, entry._line = file, document.line_of(("entries", index))
    return sheet


def _entry_faults(index: int, row: dict[str, Any]) -> list[Fault]:
    """Return what is wrong between an entry's rule and its value."""
    name, value = row.get("rule"), _as_words(row.get("value"))
    if not isinstance(name, str):
        return []
    rule = RULES.get(name)
    if rule is None:
        guess = nearest(name, RULES)
        text = "No layout rule has this name" + (f"; did you mean '{guess}'?" if guess else ".")
        return [Fault("sheet.rule", ("entries", index, "rule"), text, found=f"'{name[:60]}'")]
    if not rule.local:
        text = f"The rule '{name}' has no local value: it is geometry, or for people to settle."
        return [Fault("sheet.rule", ("entries", index, "rule"), text, found=f"'{name}'")]
    if not isinstance(value, list) or not value:
        return []
    said = _value_fault(rule, value)
    if not said:
        return []
    shown = ", ".join(value)[:60]
    text = f"The value does not fit the rule '{name}'."
    return [Fault("sheet.value", ("entries", index, "value"), text, found=f"'{shown}'", required=said)]


def _value_fault(rule: LayoutRule, value: list[str]) -> str:
    """Return what the rule expects where the value does not fit, else ''."""
    if rule.form in _WORDS:
        known = _WORDS[rule.form]
        return "" if all(v in known for v in value) else f"a list of: {', '.join(known)}"
    if rule.form == "words":
        return ""
    if rule.form == "yes":
        return "" if len(value) == 1 and value[0].lower() in _YES else "yes or no"
    single = rule.form == "number"
    good = all(_is_amount(v, rule.unit) for v in value) and (len(value) == 1 or not single)
    unit = f" of {rule.unit}" if rule.unit else ""
    return "" if good else (f"one number{unit}, not negative" if single else f"a list of numbers{unit}")


def _is_amount(text: str, unit: str) -> bool:
    try:
        return 0.0 <= parse_amount(text, unit) < float("inf")
    except ValueError:
        return False


def bundled_folder() -> Path:
    """Return the folder of the sheets that come with the project."""
    return Path(str(resources.files("scenarios").joinpath("sheets")))


def find_sheet(name: str, *, folder: Path | None) -> Path:
    """Return where a named sheet lies: beside the site file, else among the bundled ones.

    Raises BadInput when it is in neither place, or the name is more than a file name.
    """
    places = ([folder] if folder is not None else []) + [bundled_folder()]
    if PurePath(name).name == name and "\\" not in name:
        for place in places:
            if (place / name).is_file():
                return place / name
    known = sorted(p.name for p in bundled_folder().glob("*.yaml"))
    raise BadInput(
        [
            Finding(
                "sheet.missing",
                Severity.STOP,
                "rule_sheets",
                "There is no rule sheet of this name beside the site file or among the bundled ones.",
                found=f"'{name[:60]}'",
                required="the file name of a sheet",
                remedy=f"Bundled sheets: {', '.join(known)}.",
            )
        ]
    )


@lru_cache(maxsize=64)
def _read_at(path: Path, _changed_ns: int) -> RuleSheet:
    return read_sheet(read_text(path), file=str(path))


def load_sheet(path: Path) -> RuleSheet:
    """Read a rule sheet file; raises BadInput as `read_sheet` does."""
    return _read_at(path, path.stat().st_mtime_ns if path.is_file() else 0)


def sheets_of(site: Site) -> tuple[RuleSheet, ...]:
    """Return the sheets a site names, in its order; raises BadInput with the faults of all of them."""
    sheets, findings = [], list[Finding]()
    for name in site.rule_sheets:
        try:
            sheets.append(load_sheet(find_sheet(name, folder=site.folder)))
        except BadInput as error:
            findings.extend(error.findings)
    if findings:
        raise BadInput(findings)
    return tuple(sheets)
