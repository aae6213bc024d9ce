"""Forms for what a day brings besides planned work: trench inspected, line struck, stop, repair, water, a note."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import streamlit as st

from app.components.pickers import EVIDENCE_TYPES, MEGABYTE, Ask, Body, pick_one, pick_stretch, pick_time, read_stretch
from app.live import Live, attach
from scheduler.ledger import MAX_BYTES, Wording, trench_inspection_due
from scheduler.units import format_station


def _people(live: Live, *roles: str) -> dict[str, str]:
    return {p.id: f"{p.name}, {p.of}" for p in live.case.site.people if not roles or p.role in roles}


def _me(live: Live, people: Mapping[str, str]) -> int | None:
    return list(people).index(live.person.id) if live.person and live.person.id in people else None


def _who(live: Live, label: str, key: str, *roles: str) -> str:
    people = _people(live, *roles)
    chosen: str | None = st.selectbox(
        label, list(people), index=_me(live, people), format_func=people.__getitem__, key=f"{key}-who"
    )
    return chosen or ""


def _trench(live: Live, key: str) -> Ask:
    """Offer the open runs of trench that are not inspected yet, or any stretch."""
    names = {a.id: a.name for a in live.case.site.alignments}
    runs = {f"{names[a]} {format_station(lo)} to {format_station(hi)}": (a, lo, hi) for a, lo, hi in _runs(live)}
    picked = st.selectbox("Open, and not inspected yet", list(runs), key=f"{key}-at") if runs else None
    with st.expander("Another stretch", expanded=not runs):
        stretch = pick_stretch(live, key)
    who = _who(live, "Competent person", key, "competent_person")
    found = st.radio("Found", ["Safe", "Not safe: nobody stays in it"], key=f"{key}-safe")
    words = st.text_area("What was seen", key=f"{key}-words", max_chars=2000, height=80)
    when = pick_time(live, "When", f"{key}-when")

    def read() -> Body:
        body = {"who": who, "safe": found == "Safe", "words": words, "when": when}
        if picked is not None and stretch == (None, "", ""):
            alignment, lo, hi = runs[picked]
            return {**body, "alignment": alignment, "from_ft": lo, "to_ft": hi}
        return {**body, **read_stretch(*stretch)}

    return read


def _runs(live: Live) -> list[tuple[str, float, float]]:
    """Return the open trench that is not inspected yet, stretches that touch joined."""
    out: list[tuple[str, float, float]] = []
    due = trench_inspection_due(live.case.site, live.case.network, live.known, live.moment)
    for alignment, lo, hi in sorted((d.alignment, d.from_ft, d.to_ft) for d in due):
        if out and out[-1][0] == alignment and lo <= out[-1][2]:
            out[-1] = (alignment, out[-1][1], max(hi, out[-1][2]))
        else:
            out.append((alignment, lo, hi))
    return out


def _struck(live: Live, key: str) -> Ask:
    st.warning("Get people out. Call the owner, the emergency number and the one-call centre. Then write it down.")
    site = live.case.site
    alignment = pick_one("Alignment", {a.id: a.name for a in site.alignments}, f"{key}-alignment")
    station = st.text_input("Station", placeholder="1+20", key=f"{key}-station")
    line = pick_one("Which line, if it is known", {k.id: k.name for k in site.lines}, f"{key}-line")
    owners = {name: name for name in sorted({e.owner for e in site.existing if e.owner} | {p.of for p in site.people})}
    owner = pick_one("Whose line, if it is known", owners, f"{key}-owner")
    what = st.text_area("What happened", key=f"{key}-what", max_chars=2000, height=80)
    told = st.text_input("Who was called", key=f"{key}-told", max_chars=500)
    when = pick_time(live, "When", f"{key}-when")
    who = live.person.id if live.person else ""

    def read() -> Body:
        place = read_stretch(alignment, station, station)
        body = {"alignment": place["alignment"], "station_ft": place["from_ft"], "line": line, "owner": owner or ""}
        return {**body, "what": what, "told": told, "when": when, "who": who}

    return read


def _stop(live: Live, key: str) -> Ask:
    everywhere = st.radio("Where", ["Everywhere", "In a stretch"], key=f"{key}-where")
    stretch = pick_stretch(live, key)
    who = _who(live, "Who ordered it", key)
    why = st.text_area("Why", key=f"{key}-why", max_chars=2000, height=80)
    when = pick_time(live, "When", f"{key}-when")

    def read() -> Body:
        place = {} if everywhere == "Everywhere" else read_stretch(*stretch)
        return {**place, "who": who, "why": why, "when": when}

    return read


def _lifted(live: Live, key: str) -> Ask:
    wording = Wording(live.case.site, live.case.network)
    lifted = {n for n, notes in live.known.evidence.lifts.items() if notes}
    stops = {n.number: wording.sentence(n.entry.event) for n in live.known.evidence.stops if n.number not in lifted}
    if not stops:
        st.caption("No order to stop, and no struck line, is on record.")
    stop = st.selectbox(
        "Which stop", list(stops), index=None, format_func=lambda n: f"{n}: {stops[n]}", key=f"{key}-stop"
    )
    who = _who(live, "Who lifted it", key)
    when = pick_time(live, "When", f"{key}-when")
    return lambda: {"stop": stop or 0, "who": who, "when": when}


def _repaired(live: Live, key: str) -> Ask:
    stretch = pick_stretch(live, key)
    what = st.text_area("What was fixed", key=f"{key}-what", max_chars=2000, height=80)
    when = pick_time(live, "When", f"{key}-when")
    return lambda: {**read_stretch(*stretch), "what": what, "when": when}


def _water(live: Live, key: str) -> Ask:
    stretch = pick_stretch(live, key)
    when = pick_time(live, "When", f"{key}-when")
    return lambda: {**read_stretch(*stretch), "when": when}


def _stands(live: Live, key: str) -> Ask:
    network = live.case.network
    names = {k: network.by_id[k].name for k, seen in live.known.looks.items() if k in network.by_id and seen}
    if not names:
        st.caption("No look is on record yet.")
    looks = st.multiselect("Which looks", list(names), format_func=names.__getitem__, key=f"{key}-looks")
    who = _who(live, "Who said so", key, "inspector", "utility")
    words = st.text_area("What they said", key=f"{key}-words", max_chars=2000, height=80)
    when = pick_time(live, "When", f"{key}-when")
    return lambda: {"looks": tuple(looks), "inspector": who, "words": words, "when": when}


def _note(live: Live, key: str) -> Ask:
    wording = Wording(live.case.site, live.case.network)
    entries = {e.number: f"{e.number}: {wording.sentence(e.event)}" for e in reversed(live.entries)}
    words = st.text_area("Words", key=f"{key}-words", max_chars=2000, height=80)
    upload = st.file_uploader("Photo or PDF", EVIDENCE_TYPES, key=f"{key}-file", max_upload_size=MAX_BYTES // MEGABYTE)
    entry = st.selectbox(
        "To which entry, if any", list(entries), index=None, format_func=entries.__getitem__, key=f"{key}-entry"
    )
    alignment, start, end = pick_stretch(live, key)
    when = pick_time(live, "When", f"{key}-when")

    def read() -> Body:
        place = read_stretch(alignment, start, end) if alignment or start or end else {}
        paper = attach(live, upload.getvalue()) if upload is not None else None
        return {**place, "words": words, "attachment": paper, "entry": entry, "when": when}

    return read


DAY_FORMS: Mapping[str, tuple[str, Callable[[Live, str], Ask]]] = {
    "The open trench was inspected": ("trench_inspected", _trench),
    "A line was struck": ("line_struck", _struck),
    "Work was stopped": ("stop_work", _stop),
    "A stop was lifted": ("stop_work_lifted", _lifted),
    "Something was fixed": ("repair_reported", _repaired),
    "Water stood in the trench": ("water_stood", _water),
    "A pass still stands": ("pass_stands", _stands),
    "A note or a photo": ("note_kept", _note),
}
"""By what the form is called: the event it writes, and its fields."""
