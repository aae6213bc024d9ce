"""Records from a CSV file into one part of the draft; every fault at once, and nothing changed where there is one."""

from __future__ import annotations

import streamlit as st

from app.components.form_state import Desk, keep_draft
from app.components.show_faults import list_faults
from app.session import MAX_UPLOAD_BYTES
from app.words import count, escape
from scheduler import BadInput
from scheduler.site.editor import columns, csv_text, heading, import_csv, parts

FIRST = ("alignments", "lines", "bookings")
TAKEN, OUTCOME = "csv taken", "csv outcome"


def show_import(at: Desk) -> None:
    """Offer to read a part of the site from a CSV file, and to write it as one."""
    many = [key for key, part in parts().items() if part.many]
    order = [*FIRST, *(key for key in many if key not in FIRST)]
    key = st.selectbox(
        "Part to fill", order, key="import-part", format_func=lambda k: parts()[k].label, persist_state="session"
    )
    part = parts()[key]
    known = columns(part)
    needed = [heading(c) for c in known.values() if c.field.required and len(c.path) == 1]
    st.markdown(f"The first row names the columns. Needed: {escape(', '.join(needed))}.")
    with st.expander("All columns"):
        st.markdown(
            "\n".join(f"- **{escape(heading(c))}**: {escape(c.field.help or c.field.expected)}" for c in known.values())
        )
        st.markdown(
            "A list stands in one cell with semicolons, a route as `main 0+00-1+60; branch 0+00-0+40`. "
            "A row whose id is there already changes that record. An empty cell changes nothing."
        )
    st.download_button(
        f"Download {part.label.lower()} as CSV",
        csv_text(at.draft, part),
        file_name=f"{key}.csv",
        mime="text/csv",
        key="csv-download",
        icon=":material/download:",
        on_click="ignore",
    )
    upload = st.file_uploader("CSV file", type=["csv"], key=f"csv {key}", max_upload_size=1)
    if upload is not None and st.session_state.get(TAKEN) != upload.file_id:
        st.session_state[TAKEN] = upload.file_id
        st.session_state[OUTCOME] = _take(at, key, upload)
        st.rerun()
    _outcome(upload is not None)


def _take(at: Desk, key: str, upload: object) -> object:
    name, size = upload.name, upload.size  # type: ignore[attr-defined]
    if size > MAX_UPLOAD_BYTES:
        return f"{escape(name)} is too large: 1 MB is the most. Nothing was changed."
    try:
        done = import_csv(at.draft, key, upload.getvalue(), file=name)  # type: ignore[attr-defined]
    except BadInput as bad:
        return bad
    keep_draft(at.key, done.draft)
    return done


def _outcome(shown: bool) -> None:
    """Say what came of the file that was taken last."""
    outcome = st.session_state.get(OUTCOME) if shown else None
    if isinstance(outcome, str):
        st.error(outcome)
    elif isinstance(outcome, BadInput):
        st.error(f"{count(len(outcome.findings), 'thing')} to fix in this file. Nothing was changed.")
        list_faults(outcome)
    elif outcome is not None:
        st.success(f"{count(outcome.added, 'record')} added, {outcome.changed} changed. Undo takes it back.")
        if outcome.later:
            st.write("Still to fix in other parts:")
            list_faults(BadInput(outcome.later))
