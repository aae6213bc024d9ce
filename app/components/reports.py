"""Forms for what happens less often than work starting and ending: one for each kind of entry in the journal."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import streamlit as st

from app.components.day_forms import DAY_FORMS
from app.components.pickers import Ask, Body, pick_inches, pick_one, pick_stretch, pick_time, read_stretch
from app.components.show_faults import show_not_done
from app.components.told import tell
from app.live import Live
from app.words import moment
from scheduler import BadInput
from scheduler.ledger import ANSWERS
from scheduler.units import metric


def show_reports(live: Live) -> None:
    """Offer every other kind of report, the chosen one as a form."""
    forms = [label for label, (name, _) in FORMS.items() if live.may(name)]
    label = st.selectbox(
        "What happened?", forms, index=None, placeholder="Rain, a visit booked, trench covered …", key="report"
    )
    if label is None:
        return
    name, fields = FORMS[label]
    with st.form(f"report-{name}", border=True):
        ask = fields(live, name)
        sent = st.form_submit_button("Write it down", type="primary")
    if sent:
        try:
            body = ask()
        except BadInput as bad:
            show_not_done(bad, "Nothing was written down.")
            return
        tell(live, name, body)


def _remaining(live: Live, key: str) -> Ask:
    begun = {a: k for a, k in live.known.actuals.items() if k.start is not None and k.finish is None}
    names = {a: live.case.network.by_id[a].name for a in begun if a in live.case.network.by_id}
    if not names:
        st.caption("No work is reported as started and not finished.")
    activity = pick_one("Work", names, f"{key}-work")
    hours = st.number_input("Working hours left", 0.0, 999.0, 1.0, 0.5, key=f"{key}-hours")
    when = pick_time(live, "As of", f"{key}-when")
    return lambda: {"activity": activity or "", "hours": hours, "when": when}


def _rain(live: Live, key: str) -> Ask:
    start = pick_time(live, "From", f"{key}-start")
    until = pick_time(live, "To", f"{key}-until")
    inches = pick_inches("{}, if measured", (0.0, 100.0), None, 0.1, f"{key}-inches")
    return lambda: {"start": start, "until": until, "inches": inches}


def _ground(live: Live, key: str) -> Ask:
    stretch = pick_stretch(live, key)
    deep = {"cover_reported": ("fill", "shading"), "uncover_reported": ("shading", "fill")}[key]
    words = {
        "cover_reported": {"fill": "Filled", "shading": "Select fill over the lines only"},
        "uncover_reported": {"shading": "Down to the lines", "fill": "Down to the select fill over them"},
    }[key]
    depth = st.radio("How far", deep, format_func=words.__getitem__, key=f"{key}-depth")
    when = pick_time(live, "When", f"{key}-when")
    return lambda: {**read_stretch(*stretch), "depth": depth, "when": when}


def _ticket(live: Live, key: str) -> Ask:
    site = live.case.site
    tickets = {t.id: t.number or t.id for t in site.locate_tickets}
    owners = {e.owner: e.owner for e in site.existing if e.owner}
    ticket = pick_one("Locate ticket", tickets, f"{key}-ticket")
    who = pick_one("Owner of the marked line", owners, f"{key}-who")
    answer = st.radio("Their answer", list(ANSWERS), format_func=lambda a: ANSWERS[a].capitalize(), key=f"{key}-answer")
    when = pick_time(live, "When", f"{key}-when")
    return lambda: {"ticket": ticket or "", "who": who or "", "answer": answer, "when": when}


def _booked(live: Live, key: str) -> Ask:
    site = live.case.site
    of_names = {i.id: f"{i.name} ({i.authority})" for i in site.inspections}
    of_names |= {w.id: f"{w.name} ({w.by})" for w in site.outside_work}
    of = pick_one("For", of_names, f"{key}-of")
    start = pick_time(live, "Starts", f"{key}-start")
    firm = st.checkbox("Firm: it cannot be moved any more", key=f"{key}-firm")
    standing = {v: v for v, s in live.known.visits.items() if not s.cancelled}
    moved = pick_one("In place of, if it was moved", standing, f"{key}-moved") if standing else None
    name = f"{of_names[of].partition(' (')[0]}, {moment(start)}" if of else ""
    return lambda: {"visit": moved or name[:120], "of": of or "", "start": start, "firm": firm}


def _visit(live: Live, key: str) -> Ask:
    standing = {v: v for v, s in live.known.visits.items() if not s.cancelled}
    if not standing:
        st.caption("No visit is booked in the journal yet.")
    visit = pick_one("Visit", standing, f"{key}-visit")
    if key == "visit_confirmed":
        return lambda: {"visit": visit or ""}
    why = st.text_input("Why", key=f"{key}-why", max_chars=500)
    return lambda: {"visit": visit or "", "why": why}


def _measured(live: Live, key: str) -> Ask:
    site = live.case.site
    alignment = pick_one("Alignment", {a.id: a.name for a in site.alignments}, f"{key}-alignment")
    station = st.text_input("Station", placeholder="0+036.5" if metric() else "1+20", key=f"{key}-station")
    line = pick_one("Line", {k.id: k.name for k in site.lines}, f"{key}-line")
    offset = pick_inches("Offset, {} right of the centreline", (-240.0, 240.0), 0.0, 0.5, f"{key}-offset")
    cover = pick_inches("Cover over its top, {}", (0.0, 600.0), 0.0, 0.5, f"{key}-cover")
    when = pick_time(live, "When", f"{key}-when")
    who = live.person.id if live.person else ""

    def read() -> Body:
        place = read_stretch(alignment, station, station)
        body = {"alignment": place["alignment"], "station_ft": place["from_ft"], "line": line}
        return {**body, "offset_in": offset or 0.0, "cover_in": cover or 0.0, "who": who, "when": when}

    return read


FORMS: Mapping[str, tuple[str, Callable[[Live, str], Ask]]] = {
    **DAY_FORMS,
    "It rained": ("rained", _rain),
    "A stretch was covered": ("cover_reported", _ground),
    "A covered stretch was dug open": ("uncover_reported", _ground),
    "Work left on something started": ("remaining_reported", _remaining),
    "A visit was booked or moved": ("visit_booked", _booked),
    "A visit was confirmed": ("visit_confirmed", _visit),
    "A visit was called off": ("visit_cancelled", _visit),
    "An owner answered the locate ticket": ("ticket_answered", _ticket),
    "A line was measured as built": ("measured", _measured),
}
"""By what the form is called: the event it writes, and its fields."""
