"""Saving and planning a draft: what has changed, the file to keep, and making it the open site."""

from __future__ import annotations

from difflib import unified_diff

import streamlit as st

import scheduler
from app.components.form_state import Desk, edit, keep_draft, settle_on
from app.components.show_faults import list_faults
from app.session import given_file, keep_upload, uploads
from app.words import count, escape, listed
from scheduler import BadInput
from scheduler.site.editor import Draft, changes, read_yaml

MOST_SHOWN = 80
TEXT, REFUSED = "draft text", "draft refused"


def show_save(at: Desk) -> None:
    """Show what has changed, and offer to keep it."""
    text = _text(at.draft)
    _changes(at.draft, text)
    st.header("Keep it", anchor=False)
    unfinished = at.site is None
    st.download_button(
        "Download as it stands, unfinished" if unfinished else "Download the site file",
        text,
        file_name=file_name(at.draft),
        mime="application/yaml",
        key="download",
        icon=":material/download:",
        on_click="ignore",
    )
    file = given_file()
    if file is not None and at.draft.file == file:
        st.button(f"Save to {file.name}", key="save", icon=":material/save:", disabled=unfinished, on_click=_save)
    st.caption("Comments and order stay as they were. The copy lives as long as this browser page is open.")
    refused: BadInput | None = st.session_state.pop(REFUSED, None)
    if refused is not None:
        st.error("This was not done:")
        list_faults(refused)
    st.header("Plan it", anchor=False)
    if unfinished:
        st.info("It can be planned when nothing is left to mend.")
    if st.button("Plan this site", key="plan", type="primary", icon=":material/play_arrow:", disabled=unfinished):
        _plan(at, text)


def _changes(draft: Draft, text: str) -> None:
    st.header("What has changed", anchor=False)
    if text == draft.original:
        st.write("Nothing yet: it is the file as it was opened.")
        return
    before = read_yaml(draft.original, file=draft.name).data if draft.original else {}
    said = changes(before, draft.data)
    st.markdown(listed(escape(words) for words in said[:MOST_SHOWN]))
    if len(said) > MOST_SHOWN:
        st.write(f"And {len(said) - MOST_SHOWN} more.")
    lines = list(unified_diff(draft.original.splitlines(), text.splitlines(), "before", "after", n=1, lineterm=""))
    with st.expander(f"The same, line by line ({count(sum(_counts(line) for line in lines), 'line')})"):
        st.code("\n".join(lines), language="diff")


def _counts(line: str) -> bool:
    return line.startswith(("+", "-")) and not line.startswith(("+++", "---"))


def _text(draft: Draft) -> str:
    """Return the text of a draft, worked out once."""
    kept: tuple[Draft, str] | None = st.session_state.get(TEXT)
    if kept is None or kept[0] is not draft:
        kept = draft, draft.text()
        st.session_state[TEXT] = kept
    return kept[1]


def file_name(draft: Draft) -> str:
    """Return the name of a draft's file, without folders."""
    return draft.name.replace("\\", "/").rpartition("/")[2]


def _save() -> None:
    """Write the draft to the file the server was started for."""
    file = given_file()

    def change(draft: Draft) -> Draft:
        return draft.saved(file) if file is not None else draft

    try:
        edit(change)
    except BadInput as bad:
        st.session_state[REFUSED] = bad
    else:
        st.toast("Saved.", icon=":material/check:")


def _plan(at: Desk, text: str) -> None:
    """Make the draft the open site, which is then planned, and go to its first page."""
    if at.site is None:
        return
    try:
        scheduler.load(at.site)
    except BadInput as bad:
        st.error("It cannot be planned yet:")
        list_faults(bad)
        return
    folder = at.draft.file.parent if at.draft.file else None
    beside = [folder / sheet for sheet in at.site.rule_sheets] if folder else []
    name = keep_upload(file_name(at.draft), text.encode(), beside=[p for p in beside if p.is_file()])
    keep_draft(name, at.draft)
    settle_on(name, uploads()[name])
    st.switch_page(st.session_state["pages"]["today"], query_params={"site": name})
