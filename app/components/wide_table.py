"""A table that may be wider than the page: it scrolls by itself, by finger and by keyboard."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import streamlit as st


def show_wide_table(rows: Sequence[Sequence[str]], *, name: str, strong: int | None = None) -> None:
    """Show rows of plain text, their headings first; `name` is said to those who cannot see it.

    The row numbered `strong` (the headings are row 0) stands in bold.
    """
    head = "".join(f'<th scope="col">{escape(cell)}</th>' for cell in rows[0])
    lines = (
        f"<tr{' class=strong' if n == strong else ''}>{''.join(f'<td>{escape(cell)}</td>' for cell in cells)}</tr>"
        for n, cells in enumerate(rows[1:], 1)
    )
    table = f"<table><thead><tr>{head}</tr></thead><tbody>{''.join(lines)}</tbody></table>"
    st.html(f'<div class="wide-table" role="region" tabindex="0" aria-label="{escape(name)}">{table}</div>')
