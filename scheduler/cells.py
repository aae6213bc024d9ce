"""Cells of CSV files that no spreadsheet takes for a formula, and that read back as they were.

What begins a formula is the list of the OWASP page "CSV Injection": equals, plus, minus, at,
tab, carriage return and line feed, and the full-width forms of the first four. An apostrophe
counts too, so that the one put before a cell can be told from one that belongs to it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", "'")
"""First characters, blanks passed over, that get an apostrophe before the cell."""


def safe(cell: str) -> str:
    """Return a cell that no spreadsheet takes for a formula."""
    return "'" + cell if cell.startswith(FORMULA) or cell.lstrip().startswith(FORMULA) else cell


def plain(cell: str) -> str:
    """Return what a cell says, without the apostrophe that `safe`, or a spreadsheet, puts before text."""
    return cell.removeprefix("'")


def rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """Yield the line on which each row of CSV text begins, and its cells; empty rows are passed over.

    Commas part the cells, or semicolons where the first line has more of them. Raises csv.Error.
    """
    head = text.split("\n", 1)[0]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=";" if head.count(";") > head.count(",") else ",")
    line = 1
    for cells in reader:
        if any(c.strip() for c in cells):
            yield line, cells
        line = reader.line_num + 1
