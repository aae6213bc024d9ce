"""One word for one thing: no sentence of the program says what the glossary has given up."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from scheduler.glossary import GLOSSARY

ROOT = Path(__file__).parents[2]
HOME = ROOT / "scheduler" / "glossary.py"
OF_FILES = {"ft nights", "ft night", "expose", "mends", "Mend", "Mends"}
"""Words of file formats and names in code, which are told in another way."""


def sentences(path: Path) -> Iterator[tuple[int, str]]:
    """Yield every text in a module that is no docstring, with its line."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    docs = {
        id(node.body[k].value)
        for node in ast.walk(tree)
        for k in range(len(getattr(node, "body", ()) if isinstance(getattr(node, "body", ()), list) else ()))
        if isinstance(node.body[k], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs:
            yield node.lineno, node.value


MODULES = sorted(p for folder in ("app", "scheduler") for p in (ROOT / folder).rglob("*.py") if p != HOME)


@pytest.mark.parametrize("term", [t for t in GLOSSARY if t.instead_of], ids=lambda t: t.word)
def test_no_sentence_has_a_word_that_was_given_up(term) -> None:
    given_up = [re.compile(pattern) for pattern in term.instead_of]
    found = [
        f"{path.relative_to(ROOT)}:{line}: {text!r}; say '{term.word}'"
        for path in MODULES
        for line, text in sentences(path)
        if text not in OF_FILES and any(p.search(text) for p in given_up)
    ]
    assert found == []


def test_each_word_stands_once_and_is_said_somewhere() -> None:
    words = [t.word for t in GLOSSARY]
    assert len(set(words)) == len(words)
    said = " ".join(text.lower() for path in MODULES for _, text in sentences(path))
    for term in GLOSSARY:
        assert term.word.partition(",")[0] in said, term.word
        assert term.meaning.endswith((".", "'."))


def test_the_test_finds_what_it_looks_for(tmp_path: Path) -> None:
    file = tmp_path / "module.py"
    file.write_text('"""A piece of work."""\nX = f"{3} pieces of work"\n', encoding="utf-8")
    given_up = next(t.instead_of[0] for t in GLOSSARY if t.word == "task")
    assert [line for line, text in sentences(file) if re.search(given_up, text)] == [2]
