"""A site file that cannot be used: every fault, with its line, what was found and what is expected."""

from __future__ import annotations

import streamlit as st

from app.words import count, escape
from scheduler.errors import BadInput
from scheduler.findings import Finding


def show_faults(name: str, bad: BadInput) -> None:
    """Show every fault of an input, in the order of its lines."""
    st.title("This site file cannot be used yet")
    st.write(f"{count(len(bad.findings), 'thing')} to mend in {escape(name)}. Nothing was planned.")
    st.markdown("\n".join(_line(fault) for fault in bad.findings))


def _line(fault: Finding) -> str:
    place = f"line {fault.line}" if fault.line is not None else "whole file"
    parts = [f"- **{escape(fault.file)}, {place}**" if fault.file else f"- **{place}**", f"({escape(fault.where)})"]
    parts.append(escape(fault.text))
    if fault.required:
        parts.append(f"Found {escape(fault.found)}; expected {escape(fault.required)}.")
    if fault.remedy:
        parts.append(escape(fault.remedy))
    return " ".join(parts)
