"""What a layout check looked at, in plain words for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from pathlib import Path

from scheduler.cli.printed import WIDTH
from scheduler.site import Site
from scheduler.trench import JOINED_FIRST, Applied, LookedAt, OpenQuestion, alike, by_line


def looked_at(site: Site, looked: LookedAt) -> str:
    """Tell, line by line, the rules that were applied and whose they are, and then what could not be told."""
    blocks = ["What was looked at"]
    for names, rules in by_line(site, looked).items():
        said = "; ".join(_rule(one, reaches) for one, reaches in rules)
        blocks.append(_fill(f"{'; '.join(names) or 'The trench'}: {said}."))
    if looked.joints:
        blocks.append(f"\nWhere lines join: {JOINED_FIRST}")
        blocks.extend(_fill(joint.text) for joint in looked.joints)
    if looked.settled:
        blocks.append("\nWhat was not judged")
        blocks.extend(_fill(one.text) for one in looked.settled)
    if looked.idle:
        blocks.append("\nEntries that applied nowhere")
        for entry in looked.idle:
            place = f"{Path(entry.file).name}:{entry.line}: " if entry.file else ""
            blocks.append(_fill(f"{place}{entry.rule} ({entry.source}): {entry.why.rstrip('.')}."))
    for head, questions in (
        ("What could not be known", looked.unknown),
        ("What nothing in the site file covers", looked.uncovered),
    ):
        if questions:
            blocks.append("\n" + head)
            blocks.extend(_questions(questions))
    return "\n".join(blocks)


def _rule(one: Applied, reaches: tuple[str, ...]) -> str:
    whose = one.whose if one.whose == "built-in" else f"{one.whose}: {one.source}"
    where = f" in {', '.join(reaches)}" if reaches else ""
    return " ".join(f"{one.rule} {one.value} ({whose}){where}".split())


def _questions(questions: tuple[OpenQuestion, ...]) -> Iterator[str]:
    for (text, to_do), names in alike(questions).items():
        yield _fill(f"{text} ({'; '.join(names)})")
        yield textwrap.fill(to_do, WIDTH, initial_indent="      ", subsequent_indent="      ")


def _fill(text: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent="  - ", subsequent_indent="    ", break_on_hyphens=False)
