"""The rules as they stand at one site: built-in values, overridden by sheets and the site file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from scheduler.site.ground import Line, Reach
from scheduler.site.model import Site
from scheduler.trench.register import RULES
from scheduler.trench.rule import Value


@dataclass(frozen=True, slots=True)
class LocalValue:
    """One local value: from a rule sheet, or from `rules:` in the site file."""

    rule: str
    value: float
    source: str
    reaches: tuple[str, ...] = ()


class Book:
    """The rule values that hold at a site."""

    def __init__(self, site: Site) -> None:
        self.frost_depth_in = site.site.frost_depth_in
        self.own = tuple(
            LocalValue(rule=r.rule, value=r.value, source=r.source, reaches=tuple(r.where)) for r in site.rules
        )

    def find(
        self,
        rule_id: str,
        *,
        reach: Reach | None = None,
        lines: Sequence[Line] = (),
        built_in: float | None = None,
        source: str | None = None,
    ) -> Value | None:
        """Return the value of a rule at a reach and for lines, or None when nothing gives one.

        `built_in` and `source` stand for a value that a table gives at this place; without
        them the rule's default holds.
        """
        rule = RULES[rule_id]
        number = rule.default if built_in is None else built_in
        value = None if number is None else Value(rule=rule_id, value=number, source=source or rule.cited)
        for own in self.own:
            if own.rule == rule_id and (not own.reaches or (reach is not None and reach.id in own.reaches)):
                value = Value(rule=rule_id, value=own.value, source=own.source, built_in=number, local=True)
        return value

    def get(
        self,
        rule_id: str,
        *,
        reach: Reach | None = None,
        lines: Sequence[Line] = (),
        built_in: float | None = None,
        source: str | None = None,
    ) -> Value:
        """Return the value of a rule that has a built-in value; KeyError when it has none."""
        value = self.find(rule_id, reach=reach, lines=lines, built_in=built_in, source=source)
        if value is None:
            raise KeyError(rule_id)
        return value


def raised(value: Value, *, by: float) -> Value:
    """Return a value with something added to it."""
    return replace(value, value=value.value + by)
