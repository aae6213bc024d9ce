"""YAML text as plain data that remembers its lines, safe against hostile or broken files.

Every scalar stays text (or None), so `007` stays an id, `1+60` a station and `no` a word;
the records decide what a text means. Anchors and tags are hardly needed in a hand-written
file, so few are allowed and anything that could grow without bound is refused.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from ruamel.yaml import YAML, events
from ruamel.yaml.error import MarkedYAMLError
from ruamel.yaml.reader import ReaderError

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.site.faults import Fault, Path, place, short
from scheduler.site.fields import bare_name

MAX_BYTES = 1_000_000
MAX_NODES = 50_000
MAX_DEPTH = 20
MAX_ALIASES = 100
MOST_SHOWN = 500
"""A file with more faults than this is not what it should be; the rest are not told."""

_CORE_TAGS = frozenset(
    f"tag:yaml.org,2002:{t}" for t in ("str", "int", "float", "bool", "null", "map", "seq", "timestamp")
)
_NULLS = ("", "~", "null", "Null", "NULL")
_SYNTAX = (
    ("\\t", "A tab is used for indentation; use spaces."),
    ("mapping values are not allowed", "A ':' stands where none can be: check the indentation, or quote the text."),
    ("could not find expected ':'", "A ':' is missing after a field name."),
    ("but found '<scalar>'", "Text follows a closing quote or bracket, or a ':' or ',' is missing."),
    ("<block end>", "This line is indented differently from the lines around it."),
    ("expected ',' or", "A '[' or '{' is not closed, or a comma is missing."),
    ("unexpected end of stream", "A quote is opened and never closed."),
    ("cannot start any token", "A value cannot start with this character; put the text in quotes."),
)


@dataclass(frozen=True, slots=True)
class Document:
    """The data of one YAML file: dicts, lists, text and None, with the line of every value."""

    file: str
    data: Any
    lines: Mapping[Path, int]
    faults: tuple[Fault, ...] = ()
    """Faults that leave the rest readable: keys given twice, tags."""

    def line_of(self, path: Path) -> int:
        """Return the 1-based line of a value, or of the nearest record around it."""
        path = self._as_written(path)
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)

    def _as_written(self, path: Path) -> Path:
        """Return the path to a field by the name it has here: `cover` where that stands for `cover_in`."""
        written: Path = ()
        for step in path:
            bare = bare_name(step) if isinstance(step, str) and (*written, step) not in self.lines else ""
            written = (*written, bare if bare and (*written, bare) in self.lines else step)
        return written

    def finding(self, fault: Fault) -> Finding:
        """Return a fault with the place and line where it stands in this file."""
        return Finding(
            fault.rule,
            Severity.STOP,
            place(self.data, self._as_written(fault.path)),
            fault.text,
            found=fault.found,
            required=fault.required,
            remedy=fault.remedy,
            file=self.file,
            line=self.line_of(fault.path),
        )

    def refusal(self, faults: Iterable[Fault]) -> BadInput:
        """Return the refusal of this file: its faults in order of lines, each once."""
        findings = sorted({self.finding(fault): None for fault in faults}, key=lambda f: f.line or 0)
        if len(findings) > MOST_SHOWN:
            text = f"There are more faults than the first {MOST_SHOWN}; fix these and read the file again."
            findings[MOST_SHOWN:] = [whole_file(self.file, "file.more", text, line=findings[MOST_SHOWN].line)]
        return BadInput(findings)


@dataclass(slots=True)
class _Open:
    """A list or mapping whose end has not been read yet."""

    value: Any
    path: Path
    anchor: str | None
    size_before: int
    key: str | None = None


@dataclass(slots=True)
class _Builder:
    """Turns parser events into a Document, without recursion."""

    file: str
    lines: dict[Path, int] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    open: list[_Open] = field(default_factory=list)
    anchors: dict[str, tuple[Any, int]] = field(default_factory=dict)
    data: Any = None
    size: int = 0
    documents: int = 0
    aliases: int = 0

    def stop(self, line: int, text: str, *, rule: str = "file.syntax") -> BadInput:
        return BadInput([whole_file(self.file, rule, text, line=line)])

    def take(self, event: Any) -> None:
        line = event.start_mark.line + 1
        if isinstance(event, events.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                raise self.stop(line, "A second document starts here ('---'); a file holds one.")
        elif isinstance(event, events.ScalarEvent):
            self._scalar(event, line)
        elif isinstance(event, (events.MappingStartEvent, events.SequenceStartEvent)):
            self._start({} if isinstance(event, events.MappingStartEvent) else [], event, line)
        elif isinstance(event, (events.MappingEndEvent, events.SequenceEndEvent)):
            done = self.open.pop()
            if done.anchor:
                self.anchors[done.anchor] = (done.value, self.size - done.size_before)
        elif isinstance(event, events.AliasEvent):
            self._alias(str(event.anchor), line)

    def _scalar(self, event: Any, line: int) -> None:
        holder = self.open[-1] if self.open else None
        if holder is not None and isinstance(holder.value, dict) and holder.key is None:
            self._key(holder, event.value, line)
            return
        plain = event.style is None and event.implicit[0]
        value = None if plain and event.value in _NULLS else event.value
        self._check_tag(event, self._place(value, line))
        if event.anchor:
            self.anchors[event.anchor] = (value, 1)

    def _key(self, holder: _Open, key: str, line: int) -> None:
        if key in holder.value:
            first = self.lines[(*holder.path, key)]
            text = f"'{short(key)}' is given twice in the same record; it stands already on line {first}."
            self.faults.append(Fault("file.duplicate-key", (*holder.path, key), text))
        holder.key = key
        self.lines[(*holder.path, key)] = line

    def _start(self, value: Any, event: Any, line: int) -> None:
        if len(self.open) >= MAX_DEPTH:
            raise self.stop(line, f"Lists and records are nested more than {MAX_DEPTH} deep.", rule="file.size")
        path = self._place(value, line)
        self._check_tag(event, path)
        self.open.append(_Open(value, path, event.anchor, self.size - 1))

    def _alias(self, name: str, line: int) -> None:
        self.aliases += 1
        if name not in self.anchors:
            raise self.stop(line, f"'*{short(name)}' refers to nothing that stands complete before it.")
        if self.aliases > MAX_ALIASES:
            raise self.stop(line, f"More than {MAX_ALIASES} '*' references; write the values out.", rule="file.size")
        value, size = self.anchors[name]
        self.size += size - 1
        self._place(value, line)

    def _place(self, value: Any, line: int) -> Path:
        """Put a value where it belongs and return its path."""
        self.size += 1
        if self.size > MAX_NODES:
            raise self.stop(line, f"The file holds more than {MAX_NODES} values.", rule="file.size")
        if not self.open:
            self.data = value
            return ()
        holder = self.open[-1]
        if isinstance(holder.value, list):
            path = (*holder.path, len(holder.value))
            holder.value.append(value)
            self.lines[path] = line
            return path
        if holder.key is None:
            raise self.stop(line, "A field name must be plain text.")
        path = (*holder.path, holder.key)
        holder.value[holder.key], holder.key = value, None
        return path

    def _check_tag(self, event: Any, path: Path) -> None:
        tag = str(event.tag or "")
        if tag and tag not in _CORE_TAGS:
            self.faults.append(Fault("file.tag", path, f"The tag '{short(tag)}' means nothing here; remove it."))


def whole_file(
    file: str, rule: str, text: str, *, line: int | None = 1, found: str = "", required: str = ""
) -> Finding:
    """Return a finding about a file that cannot be read at all."""
    return Finding(rule, Severity.STOP, "the file", text, found=found, required=required, file=file, line=line)


def _syntax_fault(error: Exception, text: str, file: str) -> Finding:
    """Say in plain words what the YAML reader could not read, and where."""
    if isinstance(error, ReaderError):
        line = text.count("\n", 0, error.position) + 1
        return whole_file(file, "file.syntax", "The file holds a control character; it is not plain text.", line=line)
    if not isinstance(error, MarkedYAMLError):
        return whole_file(file, "file.syntax", "The file is not readable as YAML.")
    mark = error.problem_mark or error.context_mark
    problem = str(error.problem or "")
    words = next((say for sign, say in _SYNTAX if sign in problem), "This line is not readable as YAML.")
    begun = error.context_mark
    if begun is not None and mark is not None and begun.line != mark.line:
        words += f" What it belongs to begins on line {begun.line + 1}."
    return whole_file(file, "file.syntax", words, line=mark.line + 1 if mark else 1)


def read_yaml(text: str, *, file: str) -> Document:
    """Read YAML text; scalars stay text.

    Raises BadInput on a syntax error, on text too large, too deep or self-repeating.
    """
    if len(text) > MAX_BYTES:
        raise BadInput([too_big(file)])
    builder = _Builder(file)
    try:
        for event in YAML(typ="safe", pure=True).parse(text.removeprefix("\ufeff")):
            builder.take(event)
    except BadInput:
        raise
    except Exception as error:  # the parser fails in many ways on odd text; each is bad input, none is ours
        raise BadInput([_syntax_fault(error, text, file)]) from error
    return Document(file, builder.data, builder.lines, tuple(builder.faults))


def too_big(file: str) -> Finding:
    """Return the refusal of a file larger than any site needs."""
    text = "The file is far larger than a site file can be."
    return whole_file(file, "file.size", text, found="more", required=f"at most {MAX_BYTES // 1000} kB")
