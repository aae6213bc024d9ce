"""The drafts of this session: which one is edited, what it comes to, and how an edit is made."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path as File
from secrets import token_urlsafe
from zoneinfo import available_timezones

import streamlit as st

from scheduler import BadInput, Finding
from scheduler.ledger import draft_shelved, shelve_draft
from scheduler.site import Record, Site
from scheduler.site.editor import Draft, Fault, Field, Path, SitePart, drawable, known_ids, part_of, read_text, value_at
from scheduler.trench import RULES, LookedAt, PlacedFinding, look, placed_findings

DRAFTS, OPEN, LOOKED, FROM = "drafts", "draft", "draft looked at", "draft opened for"
DRAFT, TOKENS, TAKEN = "draft", "draft tokens", "draft taken up"


FIRST = {
    "site": ("name", "first_day", "time_zone", "country", "state", "frost_depth_in"),
    "reaches": ("alignment", "from", "to", "surface", "place", "soil"),
    "lines": ("name", "kind", "size_in", "material", "trade", "cover_in"),
    "trades": ("name", "own", "calendar", "notice_days"),
    "inspections": ("name", "authority", "stage", "kinds", "calendar", "notice_days"),
}
"""What is asked first of a record; the rest is folded. Of other parts: the fields that are needed."""


def first_keys(part: SitePart) -> tuple[str, ...]:
    """Return the fields of a part that are asked first; all of them where nothing is needed."""
    needed = tuple(f.key for f in part.fields if f.required and f.key != "id")
    return FIRST.get(part.key) or needed or tuple(f.key for f in part.fields)


@dataclass(frozen=True)
class Desk:
    """A draft with all that is known about it."""

    key: str
    """Under which the session keeps it."""
    draft: Draft
    site: Site | None
    faults: tuple[Fault, ...]

    @cached_property
    def layout(self) -> tuple[PlacedFinding, ...]:
        """What the layout check finds; nothing while the draft has faults."""
        return self._layout[0]

    @cached_property
    def sheets(self) -> tuple[Finding, ...]:
        """What is wrong with the rule sheets, which the layout check needs."""
        return self._layout[1]

    @cached_property
    def _layout(self) -> tuple[tuple[PlacedFinding, ...], tuple[Finding, ...]]:
        if self.site is None:
            return (), ()
        try:
            return tuple(placed_findings(self.site)), ()
        except BadInput as bad:
            return (), bad.findings

    @cached_property
    def looked(self) -> LookedAt | None:
        """What the layout check looks at; None while the draft or a rule sheet has faults."""
        return None if self.site is None or self.sheets else look(self.site)

    @cached_property
    def drawable(self) -> Site | None:
        """What of the draft can be drawn."""
        return drawable(self.draft.data)

    def faults_at(self, path: Path, *, within: bool) -> list[Fault]:
        """Return the faults of a value, and with `within` those of what is inside it."""
        return [f for f in self.faults if f.path == path or (within and f.path[: len(path)] == path)]

    def findings_of(self, part: SitePart, record: str) -> list[PlacedFinding]:
        """Return what the layout check finds about one record of a part."""
        if part.key == "reaches":
            return [p for p in self.layout if record in p.reaches]
        return [p for p in self.layout if record in p.subject and part.key in ("lines", "structures", "keep_open")]

    def findings_beside(self, path: Path) -> list[PlacedFinding]:
        """Return the layout findings that stand beside one field of a record."""
        if len(path) != 3 or not self.layout:
            return []
        record = value_at(self.draft.data, (*path[:2], "id"))
        found = self.findings_of(part_of(path), record) if isinstance(record, str) else []
        return [p for p in found if field_of(p) == path[2]]

    def choices(self, field: Field) -> dict[str, str]:
        """Return what a field may hold, each with words for it; empty when it may hold anything."""
        if field.choices:
            return {c: SAID.get(c, c.replace("_", " ")) for c in field.choices}
        if field.names_in:
            ids = known_ids(self.draft.data, field.names_in)
            return {i: f"{name} ({i})" if name and name != i else i for i, name in ids.items()}
        return OFFERED.get(field.place, dict)()


SAID = {"expose": "pothole"}
"""Words of the file that are another on screen."""
OFFERED: dict[str, Callable[[], dict[str, str]]] = {
    "rules.rule": lambda: {r.id: f"{r.id}: {r.sentence}" for r in RULES.values() if r.local},
    "site.time_zone": lambda: {z: z for z in sorted(available_timezones()) if "/" in z},
}
"""What else a field may hold, by its place: known to other parts of the program."""


def field_of(placed: PlacedFinding) -> str:
    """Return the field beside which a layout finding stands, or ''."""
    rule = RULES.get(placed.finding.rule)
    return rule.field if rule else ""


def drafts() -> dict[str, Draft]:
    """Return the drafts of this session by key."""
    kept: dict[str, Draft] = st.session_state.setdefault(DRAFTS, {})
    return kept


def follow(key: str, file: File) -> None:
    """Edit the draft of the open site whenever another site was opened; made once, and kept. Raises BadInput."""
    if st.session_state.get(FROM) == (key, file):
        return
    if key not in drafts() or drafts()[key].file != file:
        keep_draft(key, Draft.of_text(read_text(file), name=file.name, file=file))
    settle_on(key, file)


def settle_on(key: str, file: File) -> None:
    """Take a draft as that of the open site, which lies in a file."""
    st.session_state[OPEN] = key
    st.session_state[FROM] = (key, file)


def keep_draft(key: str, draft: Draft) -> None:
    """Keep a draft and make it the one that is edited."""
    drafts()[key] = draft
    st.session_state[OPEN] = key


def desk() -> Desk:
    """Return the draft that is edited with what is known about it; looked at once for every edit."""
    key = st.session_state[OPEN]
    draft = drafts()[key]
    looked: Desk | None = st.session_state.get(LOOKED)
    if looked is None or looked.draft is not draft:
        looked = Desk(key, draft, *draft.judged())
        st.session_state[LOOKED] = looked
    return looked


def keep_at_reload() -> bool:
    """Keep the draft that is edited under a key in the address, from where a reload takes it up; tell whether it is."""
    key = st.session_state[OPEN]
    draft = drafts()[key]
    if not draft.past and draft.file is not None:
        return True  # the file itself
    tokens: dict[str, tuple[str, Draft]] = st.session_state.setdefault(TOKENS, {})
    token, kept = tokens.get(key, ("", None))
    if kept is not draft:
        token = token or token_urlsafe(18)
        if not shelve_draft(token, draft, of=key):
            return False
        tokens[key] = token, draft
    if st.query_params.get(DRAFT) != token:
        st.query_params[DRAFT] = token
    return True


def take_up(name: str, file: File) -> None:
    """Go on with the draft that the address asks for, in a session that has not seen it yet."""
    token = st.query_params.get(DRAFT)
    known = {token for token, _ in st.session_state.get(TOKENS, {}).values()}
    if not token or token in known or st.session_state.get(TAKEN) == token:
        return
    st.session_state[TAKEN] = token
    found = draft_shelved(token)
    if found is not None:
        keep_draft(*found)
        st.session_state[FROM] = (name, file)


def edit(change: Callable[[Draft], Draft]) -> None:
    """Change the draft that is edited."""
    key = st.session_state[OPEN]
    drafts()[key] = change(drafts()[key])


def blank(field_list: Iterable[Field], data: dict[str, object]) -> dict[str, object]:
    """Return a new record in which every needed name of which there is but one is filled in."""
    found: dict[str, object] = {}
    for field in field_list:
        ids = known_ids(data, field.names_in) if field.names_in and field.required else {}
        if len(ids) == 1:
            found[field.key] = next(iter(ids))
    return found


def holds_record(field: Field) -> type[Record]:
    """Return the record a field holds; raises TypeError for a field that holds none."""
    if field.record is None:
        raise TypeError(f"{field.place} holds no record")
    return field.record
