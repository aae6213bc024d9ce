"""JSON Schemas of site files and rule sheets, by which an editor completes names and marks mistakes while one types."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from scheduler.reading.fields_at import plain_help
from scheduler.site.editing import FieldKind, fields_of, parts
from scheduler.site.fields import Record, bare_names, unit_in_name
from scheduler.site.site_record import Site
from scheduler.trench.register import RULES
from scheduler.trench.sheets import RuleSheet

SCHEMA_OF_SITES, SCHEMA_OF_SHEETS = "site.schema.json", "sheet.schema.json"
"""Names of the files that lie beside the bundled sites."""
_WITH_UNIT = r"^\s*[+-]?\d+(\.\d+)?\s*[A-Za-z\"'][A-Za-z0-9²³/ ]*\s*$"
_BOUNDS = {"gt": "exclusiveMinimum", "ge": "minimum", "lt": "exclusiveMaximum", "le": "maximum"}


def schema_for(*, sheet: bool = False) -> str:
    """Return the JSON Schema (draft 2020-12) of a site file, or of a rule sheet, as text.

    Titles, units, help and defaults are those of the records. A schema knows the form of each
    value; whether names are found and rules kept, `jointtrench check` says.
    """
    return json.dumps(_schema(RuleSheet if sheet else Site), indent=1, ensure_ascii=False) + "\n"


def _schema(record: type[Record]) -> dict[str, Any]:
    made = record.model_json_schema(by_alias=True, ref_template="#/$defs/{model}")
    by_name = {"": made} | made.get("$defs", {})
    for known in {record, *_within(record)}:
        _tell(by_name["" if known is record else known.__name__], known)
    if record is Site:
        made["title"] = "Site file of the joint-trench scheduler"
        _allow_empty_parts(made)
        _complete_rule_names(made["$defs"]["LocalRule"], [r.id for r in RULES.values() if r.local])
        _allow_units(made["$defs"]["LocalRule"]["properties"]["value"])
    else:
        made["title"] = "Rule sheet of the joint-trench scheduler"
        _complete_rule_names(made["$defs"]["SheetEntry"], [r.id for r in RULES.values() if r.local])
    bounded: dict[str, Any] = _with_bounds(made)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | bounded


def _with_bounds(schema: Any) -> Any:
    """Write the bounds of our own number types, which come as `gt` and `ge`, as JSON Schema does."""
    if isinstance(schema, dict):
        return {_BOUNDS.get(k, k): _with_bounds(v) for k, v in schema.items()}
    return [_with_bounds(v) for v in schema] if isinstance(schema, list) else schema


def _within(record: type[Record]) -> Iterator[type[Record]]:
    for field in fields_of(record, ""):
        if field.record is not None:
            yield field.record
            yield from _within(field.record)


def _tell(schema: dict[str, Any], record: type[Record]) -> None:
    """Put in what the records say of each field: its title with the unit, its help, what is expected."""
    if schema.get("description"):
        schema["description"] = " ".join(schema["description"].split())
    for field in fields_of(record, ""):
        told = schema["properties"][field.key]
        part = parts().get(field.key) if record is Site else None
        if unit_in_name(field.key) and field.kind is FieldKind.NUMBER:
            _allow_units(told)
        told["title"] = part.label if part else field.title
        if (bare := bare_names(record).get(field.key)) is not None:
            _allow_bare(schema, field.key, bare)
        words = [part.help if part else plain_help(field), f"Expected: {field.expected}." if field.expected else ""]
        told["description"] = " ".join(w for w in words if w)


def _allow_bare(schema: dict[str, Any], name: str, bare: str) -> None:
    """Let an editor accept `cover: 900 mm` in place of `cover_in`, also where that field is needed."""
    amount = {"type": "string", "pattern": _WITH_UNIT, "title": schema["properties"][name].get("title", bare)}
    many = "prefixItems" in json.dumps(schema["properties"][name])
    schema["properties"][bare] = {"type": "array", "items": amount} if many else amount
    if name in schema.get("required", []):
        schema["required"].remove(name)
        schema.setdefault("allOf", []).append({"anyOf": [{"required": [name]}, {"required": [bare]}]})


def _allow_units(told: dict[str, Any]) -> None:
    """Let an editor accept an amount with its unit, such as `600 mm`, in place of a bare number."""
    bare = {k: told.pop(k) for k in ("type", "gt", "ge", "lt", "le") if k in told}
    told["anyOf"] = [*([bare] if bare else []), *told.get("anyOf", []), {"type": "string", "pattern": _WITH_UNIT}]


def _allow_empty_parts(schema: dict[str, Any]) -> None:
    """A part that may be left out may also be a heading with nothing below it."""
    for key, told in schema["properties"].items():
        if key in schema["required"]:
            continue
        if "type" in told:
            told["type"] = [told["type"], "null"]
        elif "$ref" in told:
            told["anyOf"] = [{"$ref": told.pop("$ref")}, {"type": "null"}]


def _complete_rule_names(schema: dict[str, Any], names: list[str]) -> None:
    """Let an editor offer the rules that may be given a local value."""
    told = schema["properties"]["rule"]
    schema["properties"]["rule"] = {k: told[k] for k in ("title", "description") if k in told} | {"enum": names}
