"""A site file that cannot be used: every fault, with its line, what was found and what is expected."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from app.words import count, escape, listed
from scheduler import BadInput, Finding
from scheduler.spoken import found_and_expected


def show_faults(name: str, bad: BadInput) -> None:
    """Show every fault of an input, in the order of its lines."""
    st.title("This site file cannot be used yet")
    st.write(f"{count(len(bad.findings), 'thing')} to fix in {escape(name)}. Nothing was planned.")
    list_faults(bad)
    if editor := st.session_state.get("pages", {}).get("site-editor"):
        st.page_link(editor, label="Fix it in the site editor", icon=":material/edit:")


def list_faults(bad: BadInput) -> None:
    """List every fault of an input, each with its file and line."""
    st.markdown("\n".join(_line(fault) for fault in bad.findings))


def show_not_done(bad: BadInput, words: str) -> None:
    """Show that something was not done and why; where even that is not known, say so."""
    if any(finding.rule == "journal/unknown" for finding in bad.findings):
        st.error("**It is not known whether this was written down.** Look at the record before you write it again.")
    else:
        st.error(words)
    show_refusal(bad)


def show_refusal(bad: BadInput) -> None:
    """Show why something was not taken, every reason."""
    st.markdown(listed(_reason(fault) for fault in bad.findings))


def _reason(fault: Finding) -> str:
    expected = found_and_expected(escape(fault.found), escape(fault.required))
    return f"{escape(fault.where)}: {escape(fault.text)} {expected}".rstrip()


def _line(fault: Finding) -> str:
    place = f"line {fault.line}" if fault.line is not None else "whole file"
    # The name will do: an upload lies in a folder that is no concern of the person who sent it.
    file = f"{escape(Path(fault.file).name)}, " if fault.file else ""
    parts = [f"- **{file}{place}**", f"({escape(fault.where)})"]
    parts.append(escape(fault.text))
    if fault.required:
        parts.append(found_and_expected(escape(fault.found), escape(fault.required)))
    if fault.remedy:
        parts.append(escape(fault.remedy))
    return " ".join(parts)
