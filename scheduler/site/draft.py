"""A site being written: plain data as it would stand in a file, what it was before, and what is wrong with it.

A draft may be unfinished or wrong; it is never refused, only judged. Each edit returns a new
draft that remembers the old one's data, so that any number of edits can be taken back.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path as File

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.site.draft_paths import Data, insert, put, renamed, rows_at, value_at
from scheduler.site.draft_words import said
from scheduler.site.faults import Fault, Path
from scheduler.site.files import judge, opened
from scheduler.site.patching import patched
from scheduler.site.save import written_anew
from scheduler.site.site_record import Site
from scheduler.site.yamltext import read_yaml
from scheduler.whole_files import write_whole

MOST_STEPS = 300
"""So many edits can be taken back."""


@dataclass(frozen=True, slots=True)
class DraftStep:
    """One edit: what was done, in words, and the data on its other side."""

    words: str
    data: Data


@dataclass(frozen=True, slots=True)
class Draft:
    """A site being written."""

    name: str
    """Of its file, for whoever sees it."""
    data: Data
    original: str = ""
    """The text it was opened from; comments and order are kept from there."""
    file: File | None = None
    """Where it was opened from; its own rule sheets are looked for beside it."""
    past: tuple[DraftStep, ...] = field(default=(), repr=False)
    future: tuple[DraftStep, ...] = field(default=(), repr=False)

    @classmethod
    def of_text(cls, text: str, *, name: str, file: File | None = None) -> Draft:
        """Open the text of a site file, sound or not.

        Raises BadInput when it is no readable YAML, says a field twice, or is no record of fields.
        """
        document = opened(text, file=name)
        if document.faults:
            raise document.refusal(document.faults)
        return cls(name, document.data, text, file)

    def changed(self, data: Data, words: str) -> Draft:
        """Return the draft after an edit; the same one when nothing changed."""
        if data == self.data:
            return self
        past = (*self.past, DraftStep(words, self.data))[-MOST_STEPS:]
        return replace(self, data=data, past=past, future=())

    def put(self, path: Path, value: object) -> Draft:
        """Return the draft with a value at a path; None takes it away.

        When the id of a record changes, whatever refers to it follows.
        """
        old = value_at(self.data, path)
        data = put(self.data, path, value)
        if len(path) == 3 and path[2] == "id" and isinstance(old, str) and isinstance(value, str):
            others = [row.get("id") for row in rows_at(self.data, path[:1]) if isinstance(row, dict)]
            if others.count(old) == 1 and value not in others:
                data = renamed(data, str(path[0]), old, value)
        return self.changed(data, said(self.data, path, old, value))

    def added(self, path: Path, record: object, words: str) -> Draft:
        """Return the draft with a new item in a list, at a path that ends in its place there."""
        return self.changed(insert(self.data, path, record), words)

    def undone(self) -> Draft:
        """Return the draft without its last edit; itself when there is none."""
        if not self.past:
            return self
        last = self.past[-1]
        return replace(
            self, data=last.data, past=self.past[:-1], future=(*self.future, DraftStep(last.words, self.data))
        )

    def redone(self) -> Draft:
        """Return the draft with the edit last taken back; itself when there is none."""
        if not self.future:
            return self
        back = self.future[-1]
        return replace(
            self, data=back.data, past=(*self.past, DraftStep(back.words, self.data)), future=self.future[:-1]
        )

    def judged(self) -> tuple[Site | None, tuple[Fault, ...]]:
        """Return the site it says, or None with every fault, each by field path."""
        site, faults = judge(self.data)
        return (site.lying_in(self.file.parent) if site and self.file else site), faults

    def text(self) -> str:
        """Return it as the text of a file that reads back as this very data, the comments kept."""
        if self.original:
            before = read_yaml(self.original, file=self.name).data
            if before == self.data:
                return self.original
            text = patched(self.original.removeprefix("\ufeff"), old=before, new=self.data)
            if self._reads_back(text):
                return text
        text = written_anew(self.data, self.original)
        if not self._reads_back(text):
            raise AssertionError("a written draft does not read back equal")  # a defect of ours, never of the input
        return text

    def _reads_back(self, text: str) -> bool:
        try:
            return bool(read_yaml(text, file=self.name).data == self.data)
        except BadInput:
            return False

    def saved(self, path: File) -> Draft:
        """Write it to its file in one step and return it as opened from there.

        Raises BadInput, and writes nothing, when it has faults or the file has changed since it was opened.
        """
        site, _ = self.judged()
        if site is None:
            raise BadInput([_refused(path, "The site has faults; fix them first.")])
        try:
            now = path.read_bytes().decode("utf-8-sig")
        except (OSError, UnicodeDecodeError) as error:
            raise BadInput([_refused(path, "The file can no longer be read.")]) from error
        if now.replace("\r\n", "\n") != self.original.removeprefix("\ufeff").replace("\r\n", "\n"):
            raise BadInput([_refused(path, "Somebody changed the file since it was opened here; open it anew.")])
        text = self.text()
        try:
            write_whole(path, text)
        except OSError as error:
            raise BadInput([_refused(path, f"The file cannot be written: {error.strerror}.")]) from error
        return replace(self, original=text)


def _refused(path: File, text: str) -> Finding:
    return Finding("draft.save", Severity.STOP, "the file", text, file=path.name)
