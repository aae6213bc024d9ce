"""Saving and planning a draft: what has changed, the file to keep, and making it the open site."""

from __future__ import annotations

from difflib import unified_diff

import streamlit as st

import scheduler
from app.components.form_state import Desk, edit, keep_draft, settle_on
from app.components.show_faults import list_faults
from app.session import given_file, safe_name
from app.words import count, escape, listed
from scheduler import BadInput
from scheduler.ledger import keep_site, place_of, shelved
from scheduler.site.editor import Draft, changes, read_yaml

MOST_SHOWN = 80
TEXT, REFUSED, WHOSE = "draft text", "draft refused", "draft whose"
SAME = "The same job, under its new name or day: it keeps its record"
OWN = "Another job: it gets an id and a record of its own"


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
    st.caption("Comments and order stay as they were. Until then the copy is kept under this page's address alone.")
    refused: BadInput | None = st.session_state.pop(REFUSED, None)
    if refused is not None:
        st.error("This was not done:")
        list_faults(refused)
    st.header("Plan it", anchor=False)
    if unfinished:
        st.info("It can be planned when nothing is left to fix.")
    st.caption("It is kept in your own folder, under the job's id, with the record of that job; it is there tomorrow.")
    whose = _whose(at)
    if st.button("Plan this site", key="plan", type="primary", icon=":material/play_arrow:", disabled=unfinished):
        _plan(at, text, whose)


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


def _plan(at: Desk, text: str, whose: str) -> None:
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
    before = shelved(at.site.site.job_id or "")
    try:
        if whose == SAME and before is not None:
            place_of(at.site, before.path).rename()
        kept = keep_site(
            text,
            f"{safe_name(file_name(at.draft))}.yaml",
            beside=[p for p in beside if p.is_file()],
            same_job=whose == SAME,
            own_id=whose == OWN,
        )
    except BadInput as bad:
        st.session_state[REFUSED] = bad
        st.rerun()
    st.session_state.pop(WHOSE, None)
    keep_draft(kept.job, at.draft.put(("site", "job_id"), kept.job))
    settle_on(kept.job, kept.path)
    st.switch_page(st.session_state["pages"]["today"], query_params={"site": kept.job})


def _whose(at: Desk) -> str:
    """Ask which job this is where its name or first day is another than its id stands for; '' where that is plain."""
    job = at.site.site if at.site is not None else None
    before = shelved(job.job_id) if job is not None and job.job_id else None
    if job is None or before is None or (before.name, before.first_day) == (job.name, job.first_day.isoformat()):
        return ""
    st.warning(
        f"The record with this id is of **{escape(before.name)}**, first day {before.first_day}. "
        f"Now it says **{escape(job.name)}**, first day {job.first_day}."
    )
    return st.radio("Which job is it?", [SAME, OWN], index=None, key=WHOSE) or ""
