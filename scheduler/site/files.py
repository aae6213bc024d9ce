"""Reading a site file: every fault at once, each with its line and what was expected."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Any, get_args, get_origin

from pydantic import TypeAdapter, ValidationError

from scheduler.errors import BadInput
from scheduler.findings import Finding
from scheduler.site.fault_wording import shape_faults
from scheduler.site.faults import Fault
from scheduler.site.fields import FIRST_YEAR, Record, bare_name
from scheduler.site.people import CalendarSpec
from scheduler.site.record_faults import record_faults
from scheduler.site.references import name_faults
from scheduler.site.site_record import JobSpec, Site
from scheduler.site.yamltext import MAX_BYTES, MOST_SHOWN, Document, read_yaml, too_big, whole_file
from scheduler.units import Units, told_in


def load_site(path: Path) -> Site:
    """Read a site file.

    Raises BadInput, with every fault found, when the file is missing, too large, not text,
    not YAML, or not a site that hangs together.
    """
    return read_site(read_text(path), file=str(path)).lying_in(path.parent)


def read_text(path: Path) -> str:
    """Read a text file of a reasonable size; raises BadInput when it is none."""
    file = str(path)
    try:
        if not path.is_file():
            text = "This is a folder, not a file." if path.is_dir() else "There is no such file."
            raise BadInput([whole_file(file, "file.missing", text, line=None)])
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        text = "The file cannot be opened; check its name and who may read it."
        raise BadInput([whole_file(file, "file.missing", text, line=None)]) from error
    if len(raw) > MAX_BYTES:
        raise BadInput([too_big(file)])
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        text = "The file is not plain text in UTF-8."
        raise BadInput([whole_file(file, "file.encoding", text, line=line)]) from error


def read_site(text: str, *, file: str) -> Site:
    """Read the text of a site file; `file` is the name to show beside each fault.

    Raises BadInput with every fault: syntax, shape of each value, and what does not hang
    together between records, in order of lines.
    """
    document = opened(text, file=file)
    site, faults = judge(document.data)
    if site is None or document.faults:
        raise document.refusal([*document.faults, *faults])
    return site


def opened(text: str, *, file: str) -> Document:
    """Return the text of a site file as plain data, sound or not; raises BadInput when it is no record of fields."""
    document = read_yaml(text, file=file)
    if not isinstance(document.data, dict):
        raise BadInput([_not_a_site(document)])
    return document


def judge(data: dict[str, Any]) -> tuple[Site | None, tuple[Fault, ...]]:
    """Return the site that plain data says, or None with every fault found, each by field path."""
    with told_in(units_said(data)):
        return _judged(_without_empty_sections(data))


def units_said(data: dict[str, Any]) -> Units:
    """Return the units that plain data of a site says it is written in; feet where it says nothing."""
    job = data.get("site")
    return "metres" if isinstance(job, dict) and job.get("units") == "metres" else "feet"


def _judged(data: dict[str, Any]) -> tuple[Site | None, tuple[Fault, ...]]:
    faults = list(islice(name_faults(data), MOST_SHOWN))
    try:
        site = Site.model_validate(data)
    except ValidationError as error:
        faults.extend(islice(shape_faults(error, Site), MOST_SHOWN))
        part = _readable_part(data, error)
        faults.extend(part.where_written(fault) for fault in record_faults(part.site, incomplete=part.incomplete))
        return None, tuple(faults)
    faults.extend(record_faults(site))
    return (None if faults else site), tuple(faults)


def _not_a_site(document: Document) -> Finding:
    empty = document.data is None
    text = "The file is empty." if empty else "The file is no record of named fields."
    found = "nothing" if empty else "a list" if isinstance(document.data, list) else "a bare text"
    required = "fields such as site, alignments, reaches, lines"
    return whole_file(document.file, "file.not-a-site", text, found=found, required=required)


def _without_empty_sections(data: dict[str, Any]) -> dict[str, Any]:
    """Leave out sections that have a heading and nothing below it, where they may be absent."""
    optional = {name for name, field in Site.model_fields.items() if not field.is_required()}
    return {key: value for key, value in data.items() if value is not None or key not in optional}


@dataclass(frozen=True, slots=True)
class _Part:
    """The records of a faulty site that could be read, for the checks that need no more."""

    site: Site
    incomplete: frozenset[str]
    """Sections of which some part could not be read."""
    kept: dict[str, list[int]]
    """By section, the index in the file of each record read."""

    def where_written(self, fault: Fault) -> Fault:
        """Return a fault with its path counted as in the file."""
        section, *rest = fault.path
        if rest and isinstance(rest[0], int) and section in self.kept:
            rest[0] = self.kept[str(section)][rest[0]]
        return replace(fault, path=(section, *rest))


def _readable_part(data: dict[str, Any], error: ValidationError) -> _Part:
    faulty = {tuple(detail["loc"][:3]) for detail in error.errors(include_url=False)}
    incomplete = frozenset(str(loc[0]) for loc in faulty)
    keys: dict[tuple[Any, ...], set[Any]] = {}
    for loc in faulty:
        if len(loc) == 3:
            keys.setdefault(loc[:2], set()).update((loc[2], bare_name(str(loc[2]))))
    values: dict[str, Any] = {"site": _readable_job(data.get("site"), faulty)}
    kept: dict[str, list[int]] = {}
    for section, record in record_sections().items():
        rows = data.get(section)
        read = {
            i: _readable(record, row, keys.get((section, i), set()))
            for i, row in enumerate(rows if isinstance(rows, list) else [])
        }
        kept[section] = [i for i, found in read.items() if found is not None]
        values[section] = [read[i] for i in kept[section]]
    for section in set(data) & set(Site.model_fields) - set(values) - incomplete:
        values[section] = _value(section, data[section])
    return _Part(Site.model_construct(**values), incomplete, kept)


def readable_part(data: dict[str, Any], error: ValidationError) -> Site:
    """Return the records of a faulty site that could be read, with nothing checked between them."""
    return _readable_part(data, error).site


def _readable(record: type[Record], row: Any, keys: set[Any]) -> Record | None:
    """Return a record, if need be without its faulty fields, or None if it cannot do without them."""
    if keys and record is CalendarSpec:
        return None  # without some of its hours it would seem to be closed
    try:
        return record.model_validate({k: v for k, v in row.items() if k not in keys} if keys else row)
    except ValidationError:
        return None


def _readable_job(data: Any, faulty: set[tuple[Any, ...]]) -> JobSpec:
    """Return the job without its faulty fields; what is needed and missing gets a stand-in."""
    good = {k: v for k, v in data.items() if ("site", k) not in faulty} if isinstance(data, dict) else {}
    return JobSpec.model_validate({"name": "site", "first_day": f"{FIRST_YEAR}-01-01"} | good)


def _value(section: str, data: Any) -> Any:
    adapter: TypeAdapter[Any] = TypeAdapter(Site.model_fields[section].rebuild_annotation())
    return adapter.validate_python(data)


def record_sections() -> dict[str, type[Record]]:
    """Return the sections of a site file that are lists of records, with their record types."""
    found = {}
    for name, field in Site.model_fields.items():
        args = get_args(field.annotation) if get_origin(field.annotation) is list else ()
        if args and isinstance(args[0], type) and issubclass(args[0], Record):
            found[name] = args[0]
    return found
