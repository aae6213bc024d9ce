"""The faults to put into one module: cosmic-ray's operators, without those that cannot matter."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

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


def mutants_of(path: Path) -> Iterator[Mutant]:
    """Yield every fault of a source file, in the order of the operators."""
    source = path.read_text(encoding="utf-8")
    tree = ast.parse(source)
    idle, sums, statements = list(_idle(tree)), list(_sums(tree)), _statements(tree)
    seen = {source}
    for name in OPERATORS:
        operator = get_operator(f"core/{name}")()
        for number, (start, end) in enumerate(_places(source, operator)):
            if _inside((start, end), idle) or ("Binary" in name and not _inside((start, end), sums)):
                continue
            try:
                mutated = mutate_code(source, operator, number)
            except AttributeError:  # cosmic-ray 8 replaces plain names of exceptions only
                continue
            if mutated is None or mutated in seen or not _compiles(mutated):
                continue
            seen.add(mutated)
            before, after = _changed(source, mutated)
            yield Mutant(str(path), start[0], statements.get(start[0], (start[0],)), before, after, mutated)


class _Finder(Visitor):
    """Lists the places of an operator in the order in which cosmic-ray counts them."""

    def __init__(self, operator: Operator) -> None:
        self.operator, self.places = operator, list[Place]()

    def visit(self, node: object) -> object:
        self.places += self.operator.mutation_positions(node)
        return node


def _places(source: str, operator: Operator) -> list[Place]:
    finder = _Finder(operator)
    finder.walk(get_ast(source))
    return finder.places


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
