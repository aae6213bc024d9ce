"""Changing values inside YAML text and leaving every other letter, comments included, as it is."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.nodes import MappingNode, Node, SequenceNode

from scheduler.site.yamlwriting import entry, inline, item


def patched(text: str, *, old: Mapping[str, Any], new: Mapping[str, Any]) -> str:
    """Return YAML text that said `old`, changed to say `new`.

    A field that the text does not give is added where `new` has it.
    """
    patch = _Patch(text)
    root = YAML(typ="safe", pure=True).compose(text)
    patch.mapping(root, old, new)
    return patch.apply(0, len(text))


@dataclass(slots=True)
class _Patch:
    """Edits to a text: (start, end, replacement), none overlapping another."""

    text: str
    edits: list[tuple[int, int, str]] = field(default_factory=list)

    def apply(self, start: int, end: int) -> str:
        """Return the part [start, end) of the text with its edits made."""
        out, at = "", start
        for a, b, new in sorted(self.edits, key=lambda e: e[:2]):
            out += self.text[at:a] + new
            at = b
        return out + self.text[at:end]

    def value(self, node: Node, old: Any, new: Any) -> None:
        if old == new:
            return
        if isinstance(node, MappingNode) and isinstance(old, dict) and isinstance(new, dict):
            self.mapping(node, old, new)
        elif isinstance(node, SequenceNode) and isinstance(old, list) and isinstance(new, list):
            self.sequence(node, old, new)
        else:
            start = node.start_mark.index
            gap = " " if self.text[start - 1 : start] == ":" else ""
            self.edits.append((start, self.end(node), gap + inline(new)))

    def mapping(self, node: MappingNode, old: Mapping[str, Any], new: Mapping[str, Any]) -> None:
        given = {key.value: (key, value) for key, value in node.value}
        kept = [name for name in given if new.get(name) not in (None, [], {}) or old.get(name) == new.get(name)]
        added = [name for name in new if name not in given]
        if node.flow_style:
            self._flow_mapping(node, kept, added, old, new)
            return
        for k, (name, (key, value)) in enumerate(given.items()):
            if name in kept:
                self.value(value, old[name], new[name])
            else:
                following = list(given.values())[k + 1 : k + 2]
                self._drop_entry(key, value, following[0][0] if following else None)
        lines = [line for name in added for line in entry(name, new[name], node.value[0][0].start_mark.column)]
        self._insert_after(self.end(node), lines)

    def _flow_mapping(
        self,
        node: MappingNode,
        kept: list[str],
        added: list[str],
        old: Mapping[str, Any],
        new: Mapping[str, Any],
    ) -> None:
        if len(kept) < len(node.value) or not kept:
            said = {name: new[name] for name in (*kept, *added)}
            self.edits.append((node.start_mark.index, self.end(node), inline(said)))
            return
        for key, value in node.value:
            self.value(value, old[key.value], new[key.value])
        tail = "".join(f", {name}: {inline(new[name])}" for name in added)
        at = self.end(node.value[-1][1])
        self.edits.extend([(at, at, tail)] if tail else [])

    def _drop_entry(self, key: Node, value: Node, following: Node | None) -> None:
        start = key.start_mark.index
        line = self.text.rfind("\n", 0, start) + 1
        if not self.text[line:start].strip():
            self.edits.append((line, self._line_end(self.end(value)), ""))
        elif following is not None:  # it stands behind the dash of its item: the next moves up
            self.edits.append((start, following.start_mark.index, ""))

    def sequence(self, node: SequenceNode, old: list[Any], new: list[Any]) -> None:
        names_old, names_new = _names(old, new)
        common = [name for name in names_new if name in names_old]
        in_order = [name for name in names_old if name in names_new] == common
        unique = len(set(names_old)) == len(names_old) and len(set(names_new)) == len(names_new)
        if node.flow_style and len(old) == len(new):
            for child, was, now in zip(node.value, old, new, strict=True):
                self.value(child, was, now)
        elif node.flow_style:
            self.edits.append((node.start_mark.index, self.end(node), inline(new)))
        elif in_order and unique:
            self._in_place(node, old, new, names_old, names_new)
        else:
            self._laid_anew(node, old, new, names_old, names_new)

    def _in_place(
        self,
        node: SequenceNode,
        old: list[Any],
        new: list[Any],
        names_old: list[str],
        names_new: list[str],
    ) -> None:
        """Drop, change and add items where they belong; the rest stays."""
        where = {name: i for i, name in enumerate(names_new)}
        for child, name, was in zip(node.value, names_old, old, strict=True):
            if name in where:
                self.value(child, was, new[where[name]])
            else:
                start, end = self._item_lines(child)
                self.edits.append((start, end, ""))
        children = dict(zip(names_old, node.value, strict=True))
        column = self._dash_column(node.value[0])
        before: Node | None = None
        for name, said in zip(names_new, new, strict=True):
            if name in children:
                before = children[name]
            elif before is not None:
                self._insert_after(self.end(before), item(said, column))
            else:
                start, _ = self._item_lines(node.value[0])
                self.edits.append((start, start, self._joined(item(said, column))))

    def _laid_anew(
        self,
        node: SequenceNode,
        old: list[Any],
        new: list[Any],
        names_old: list[str],
        names_new: list[str],
    ) -> None:
        """Fill the places of the old items with the new ones, for items that changed order."""
        column = self._dash_column(node.value[0])
        chunks = []
        for name, now in zip(names_new, new, strict=True):
            if name in names_old:
                k = names_old.index(name)
                inner = _Patch(self.text)
                inner.value(node.value[k], old[k], now)
                chunks.append(inner.apply(*self._item_lines(node.value[k])))
            else:
                chunks.append(self._joined(item(now, column)))
        places = [self._item_lines(child) for child in node.value]
        filled = [*chunks[: len(places) - 1], "".join(chunks[len(places) - 1 :])]
        filled += [""] * (len(places) - len(filled))
        self.edits.extend((start, end, chunk) for (start, end), chunk in zip(places, filled, strict=True))

    def end(self, node: Node) -> int:
        """Return where the text of a node ends, without what follows it."""
        if isinstance(node, (MappingNode, SequenceNode)) and not node.flow_style and node.value:
            last = node.value[-1]
            return self.end(last[1] if isinstance(last, tuple) else last)
        start = int(node.start_mark.index)
        return start + len(self.text[start : node.end_mark.index].rstrip())

    def _line_end(self, at: int) -> int:
        stop = self.text.find("\n", at)
        return len(self.text) if stop < 0 else stop + 1

    def _item_lines(self, child: Node) -> tuple[int, int]:
        start = self.text.rfind("\n", 0, child.start_mark.index) + 1
        return start, self._line_end(self.end(child))

    def _dash_column(self, child: Node) -> int:
        start, _ = self._item_lines(child)
        return self.text.index("-", start) - start

    def _insert_after(self, at: int, lines: Sequence[str]) -> None:
        if lines:
            stop = self._line_end(at)
            lead = [] if self.text[stop - 1 : stop] == "\n" else [""]
            self.edits.append((stop, stop, self._joined([*lead, *lines])))

    def _joined(self, lines: Sequence[str]) -> str:
        newline = "\r\n" if "\r\n" in self.text else "\n"
        return "".join(line + newline for line in lines)


def _names(old: list[Any], new: list[Any]) -> tuple[list[str], list[str]]:
    """Name the items of two lists, so that the same item has the same name in both."""
    if all(isinstance(row, dict) and "id" in row for row in old + new):
        return [row["id"] for row in old], [row["id"] for row in new]
    if len(old) == len(new):
        return [str(k) for k in range(len(old))], [str(k) for k in range(len(new))]
    return [json.dumps(row) for row in old], [json.dumps(row) for row in new]
