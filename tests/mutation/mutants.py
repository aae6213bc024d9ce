"""The faults to put into one module: cosmic-ray's operators, without those that cannot matter."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from random import Random

from cosmic_ray.ast import Visitor, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.operators.operator import Operator
from cosmic_ray.plugins import get_operator

NEGATED = {
    "Eq": "NotEq",
    "NotEq": "Eq",
    "Is": "IsNot",
    "IsNot": "Is",
    "Lt": "GtE",
    "GtE": "Lt",
    "Gt": "LtE",
    "LtE": "Gt",
}
BOUNDARY = {"Lt": "LtE", "LtE": "Lt", "Gt": "GtE", "GtE": "Gt"}
ARITHMETIC = {"Add": "Sub", "Sub": "Add", "Mul": "Div", "Div": "Mul", "FloorDiv": "Mul", "Mod": "Mul", "Pow": "Mul"}
SETS = {"BitOr": "BitAnd", "BitAnd": "BitOr"}
OPERATORS = (
    *(f"ReplaceComparisonOperator_{a}_{b}" for a, b in chain(NEGATED.items(), BOUNDARY.items())),
    *(f"ReplaceBinaryOperator_{a}_{b}" for a, b in chain(ARITHMETIC.items(), SETS.items())),
    "ReplaceUnaryOperator_Delete_Not",
    "ReplaceUnaryOperator_Delete_USub",
    "AddNot",
    "ReplaceTrueWithFalse",
    "ReplaceFalseWithTrue",
    "ReplaceAndWithOr",
    "ReplaceOrWithAnd",
    "ReplaceBreakWithContinue",
    "ReplaceContinueWithBreak",
    "ExceptionReplacer",
    "NumberReplacer",
    "ZeroIterationForLoop",
)
"""One fault of a kind at each place: the other operators of cosmic-ray put in more of the same."""

Place = tuple[tuple[int, int], tuple[int, int]]


@dataclass(frozen=True, slots=True)
class Mutant:
    """A module with one fault in it."""

    path: str
    line: int
    """Line of the fault, counted from 1."""
    lines: tuple[int, ...]
    """Lines of the whole statement, of a compound one its head."""
    before: str
    after: str
    """The changed lines before and after, without indent."""
    source: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.before}  ->  {self.after}"


def mutants_of(path: Path, *, share: float = 1.0, seed: int = 1) -> Iterator[Mutant]:
    """Yield the faults of a source file, or a share of them drawn at random."""
    source = path.read_text(encoding="utf-8")
    statements, seen = _statements(ast.parse(source)), {source}
    places = _places(source)
    if share < 1.0:
        places = Random(f"{seed} {path}").sample(places, round(share * len(places)))
    for operator, number, line in places:
        try:
            mutated = mutate_code(source, operator, number)
        except AttributeError:  # cosmic-ray 8 replaces plain names of exceptions only
            continue
        if mutated is not None and mutated not in seen and _compiles(mutated):
            seen.add(mutated)
            before, after = _changed(source, mutated)
            yield Mutant(str(path), line, statements.get(line, (line,)), before, after, mutated)


class _Finder(Visitor):
    """Lists the places of all operators, each in the order in which cosmic-ray counts them."""

    def __init__(self) -> None:
        self.operators = [get_operator(f"core/{name}")() for name in OPERATORS]
        self.places: list[list[Place]] = [[] for _ in OPERATORS]

    def visit(self, node: object) -> object:
        for operator, places in zip(self.operators, self.places, strict=True):
            places += operator.mutation_positions(node)
        return node


def _places(source: str) -> list[tuple[Operator, int, int]]:
    """Return where a fault matters: the operator, which of its places in the file, and the line."""
    tree = ast.parse(source)
    idle, sums = list(_idle(tree)), list(_sums(tree))
    finder = _Finder()
    finder.walk(get_ast(source))
    found = []
    for name, operator, places in zip(OPERATORS, finder.operators, finder.places, strict=True):
        for number, place in enumerate(places):
            if not _inside(place, idle) and ("Binary" not in name or _inside(place, sums)):
                found.append((operator, number, place[0][0]))
    return found


def _idle(tree: ast.AST) -> Iterator[Place]:
    """Yield the places where a fault changes nothing that runs: types, decorators, assertions, `zip(strict=True)`."""
    for node in ast.walk(tree):
        parts: list[ast.AST | None] = []
        match node:
            case ast.AnnAssign() | ast.arg():
                parts = [node.annotation]
            case ast.FunctionDef():
                parts = [node.returns, *node.decorator_list]
            case ast.ClassDef():
                parts = [*node.decorator_list]
            case ast.Assert():
                parts = [node]
            case ast.keyword(arg="strict"):
                parts = [node.value]
        for part in parts:
            if part is not None:
                yield (part.lineno, part.col_offset), (part.end_lineno, part.end_col_offset)  # type: ignore[attr-defined]


def _sums(tree: ast.AST) -> Iterator[Place]:
    """Yield where the signs of sums and products stand: cosmic-ray takes the star in `f(a, *, b)` for one of them."""
    for node in ast.walk(tree):
        if isinstance(node, ast.BinOp):
            after = (node.left.end_lineno or 0, node.left.end_col_offset or 0)
            yield after, (node.right.lineno, node.right.col_offset)


def _inside(place: Place, others: Iterable[Place]) -> bool:
    return any(a <= place[0] and place[1] <= b for a, b in others)


def _statements(tree: ast.AST) -> dict[int, tuple[int, ...]]:
    """Return, by line, the lines of the innermost statement that it belongs to; of a compound one those of its head."""
    found: dict[int, tuple[int, ...]] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.stmt):
            body = getattr(node, "body", None) or getattr(node, "cases", None)
            first = body[0].lineno if body and hasattr(body[0], "lineno") else None
            last = max(node.lineno, first - 1) if first is not None else node.end_lineno or node.lineno
            lines = tuple(range(node.lineno, last + 1))
            found |= dict.fromkeys(lines, lines)
    return found


def _compiles(source: str) -> bool:
    try:
        compile(source, "mutant", "exec")
    except SyntaxError:
        return False
    return True


def _changed(source: str, mutated: str) -> tuple[str, str]:
    pairs = [(a, b) for a, b in zip(source.splitlines(), mutated.splitlines(), strict=False) if a != b]
    old, new = (re.sub(r"\s+", " ", " ".join(side)).strip() for side in zip(*pairs, strict=True))
    return old, new
