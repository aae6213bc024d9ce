"""`jointtrench rules`, `words` and `schema`: what the rules are, what words mean, what an editor can know of a file."""

from __future__ import annotations

import argparse
import textwrap
from pathlib import Path
from typing import Any

from scheduler import BadInput
from scheduler.cli import printed
from scheduler.cli.asked import fault
from scheduler.reading import CatalogueEntry, catalogue, entries_with, schema_for, words_near
from scheduler.spoken import GLOSSARY, count
from scheduler.whole_files import write_whole


def add_to(sub: Any) -> None:
    """Add the commands to the command line."""
    rules = sub.add_parser("rules", help="every rule of the layout and of dates: value, source, where to change it")
    rules.add_argument("word", nargs="*", help="only rules that say this, such as: cover-water, or: water sewer")
    rules.set_defaults(run=show_rules)

    words = sub.add_parser("words", help="what the words mean: one word for one thing")
    words.set_defaults(run=show_words)

    schema = sub.add_parser("schema", help="JSON Schema of a site file, so that an editor helps while one types")
    schema.add_argument("--sheet", action="store_true", help="of a rule sheet instead")
    schema.add_argument("--out", type=Path, metavar="FILE", help="write it to a file; printed when left out")
    schema.set_defaults(run=show_schema)


def show_words(_: argparse.Namespace) -> int:
    """Tell what each word means that screens, papers and commands use."""
    for term in GLOSSARY:
        print(textwrap.fill(f"{term.word}: {term.meaning}", width=110, subsequent_indent="    "))
    return 0


def show_rules(arguments: argparse.Namespace) -> int:
    """List every rule in short, or tell all about those in which the words occur."""
    word = " ".join(arguments.word)
    found = entries_with(word)
    if not found:
        near = "; ".join(words_near(word)) or "a word such as cover, sewer, ribbon or notice"
        raise BadInput([fault("rules", "No rule says this", word[:60], near)])
    if not word.strip():
        width = max(len(entry.id) for entry in catalogue())
        for entry in found:
            print(f"{entry.id:{width}}  {entry.value}")
        print(f"{count(len(found), 'rule')} and rates. All about one, or all with a word: jointtrench rules WORD")
        return 0
    print("\n\n".join(_told(entry) for entry in found))
    print(f"\n{count(len(found), 'rule')} with '{word}'.")
    return 0


def _told(entry: CatalogueEntry) -> str:
    rows = (
        ("Value", entry.value),
        ("Needs", ", ".join(entry.needs)),
        ("Change", entry.change),
        ("Source", entry.source),
    )
    lines = [f"{entry.id} ({entry.of})", textwrap.fill(entry.sentence, printed.WIDTH, initial_indent="  ")]
    for name, said in rows:
        if said:
            head = f"  {name + ':':8}"
            lines.append(textwrap.fill(said, printed.WIDTH, initial_indent=head, subsequent_indent=" " * 10))
    return "\n".join(lines)


def show_schema(arguments: argparse.Namespace) -> int:
    """Print the schema, or write it and say what line a site file needs to be helped by it."""
    text = schema_for(sheet=arguments.sheet)
    if arguments.out is None:
        print(text, end="")
        return 0
    write_whole(arguments.out, text)
    print(f"Written to {arguments.out}. A file beside it is helped by this line at its head:")
    print(f"# yaml-language-server: $schema={arguments.out.name}")
    return 0
