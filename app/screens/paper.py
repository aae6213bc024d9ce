"""Papers for the truck and calendars for phones, made from the plan when somebody presses for them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from functools import lru_cache, partial
from urllib.parse import urlsplit

import streamlit as st

from app.address import choose, choose_side_by_side, notice_unknown, publish, settle
from app.answer import Answer
from app.components.head import head
from app.components.show_cautions import show_cautions
from app.components.show_faults import show_refusal
from app.components.window import choose_day
from app.jobs import Job
from app.live import Live, live_of
from app.stands import situation_of
from app.words import count, escape
from scheduler import BadInput
from scheduler.export import (
    EVERYBODY,
    LONGEST,
    WEEKS,
    Audience,
    PaperFacts,
    Period,
    activities_csv,
    calendar,
    checked_base,
    day_sheets,
    file_name,
    hold_tags,
    holds_csv,
    look_ahead,
    parties,
    read_calendar,
    recorded,
    standing,
    usual_paper,
    visits_csv,
)

SPANS = {str(n): count(n, "week") for n in WEEKS}
FIRST_SPAN = "2"
SHEETS = {"letter": "US Letter", "a4": "A4"}
TABLES = {"work": activities_csv, "visits": visits_csv, "hold points": holds_csv}
HERE_ONLY = ("localhost", "127.0.0.1", "::1")
"""Hosts that mean the machine one sits at: no address for anybody's phone."""
PDF, CSV, ICS = "application/pdf", "text/csv", "text/calendar"

kept_look_ahead = lru_cache(maxsize=32)(look_ahead)


def show(job: Job, answer: Answer) -> None:
    """Offer look-aheads, calendars, hold tags and tables for whoever is chosen."""
    if not head(job, answer, "Paper and calendars"):
        return
    live = live_of(job.case)
    if live.fault is not None:
        st.warning("No papers, calendars or tables are made while the record cannot be read: they would not be true.")
        return
    facts = _facts(answer, live)
    readers = {p.id: p for p in parties(facts) if live.concerns(p.id, p.name)}
    if not readers:
        st.info("No papers of your own: nothing is planned for you.")
        return
    party, stretch, paper = _choices(facts, live, readers)
    _contents(facts, party, stretch)
    to_print, for_phones, for_sheets = (st.container(border=True) for _ in range(3))
    base = _base()
    with to_print:
        _papers(facts, party, stretch, paper, base)
    with for_phones:
        _calendar(facts, live, party, base)
    with for_sheets:
        _tables(facts, party)
    show_cautions()


def _facts(answer: Answer, live: Live) -> PaperFacts:
    """Return what papers say of a plan, the same as before while the plan and how the site stands are the same."""
    kept: PaperFacts | None = st.session_state.get("paper facts")
    now = situation_of(live, answer) if live.place.made else None
    if kept is None or kept.plan is not answer.plan or kept.situation is not now:
        kept = PaperFacts(answer.plan, answer.case.site, answer.case.network, now)
        st.session_state["paper facts"] = kept
    return kept


def _choices(facts: PaperFacts, live: Live, readers: Mapping[str, Audience]) -> tuple[Audience, Period, str]:
    names = {key: p.name for key, p in readers.items()}
    with st.container(horizontal=True, vertical_alignment="bottom", gap="medium"):
        whom = choose("Who is it for?", names, key="for", what="trade or authority", width=320)
        weeks = _one_of("How far ahead", SPANS, "weeks", FIRST_SPAN)
        first = choose_day(facts.plan, "From", on=live.moment.date())
        paper = _one_of("Paper", SHEETS, "sheet", usual_paper(facts))
    return readers[whom or next(iter(readers))], Period(first, int(weeks)), paper


def _one_of(label: str, names: dict[str, str], key: str, usual: str) -> str:
    """Offer a few choices side by side; the one made stands in the address."""
    settle(key, names)
    chosen = choose_side_by_side(label, names, key=key, usual=usual)
    publish(key, None if chosen == usual else chosen)
    notice_unknown(key, label.lower())
    return chosen


def _contents(facts: PaperFacts, party: Audience, stretch: Period) -> None:
    rows = [row for sheet in day_sheets(facts, party, stretch.first, stretch.last) for row in sheet.rows]
    whom = "" if party == EVERYBODY else f" for {escape(party.name)}"
    if not rows:
        st.info(f"Nothing is planned{whom} from {stretch.words}. The papers say so.")
        return
    visits, calls = sum(row.visit for row in rows), sum(row.call for row in rows)
    stops = len({stop for row in rows for stop in row.stops})
    over, blocked = sum(bool(row.over) for row in rows), sum(bool(row.blocked) for row in rows)
    said = [count(len(rows) - visits - calls, "task"), count(visits, "inspection visit")]
    said += [f"{count(stops, 'hold point')} to be released before work"] if stops else []
    said += [f"{over} done"] if over else []
    said += [f"{blocked} that may not begin or go on"] if blocked else []
    said += [count(calls, "call") + " to make"] if calls else []
    st.markdown(f"**{stretch.words}**{whom}: {', '.join(said)}.")


def _papers(facts: PaperFacts, party: Audience, stretch: Period, paper: str, base: str) -> None:
    st.subheader("To print", anchor=False)
    _offer(
        "Look-ahead (PDF)",
        "Day by day: when, where with stations, what, which hold points gate it, visits, calls, room for initials.",
        lambda: kept_look_ahead(facts, party, stretch, paper),
        file_name("look-ahead", party.name, "pdf"),
        PDF,
    )
    holds = standing(facts, stretch.first, stretch.last)
    code = "with a QR code to its page" if base else "without QR code, as this dashboard has no address for phones yet"
    _offer(
        "Hold tags (PDF)",
        f"{count(len(holds), 'tag')}, one for each hold point that stands in these days, {code}. Print them on "
        "waterproof paper, or hang them in a sleeve.",
        lambda: hold_tags(facts, holds, paper, base),
        "hold tags.pdf",
        PDF,
    )
    _offer(
        "Hold tags in Spanish (PDF)",
        "The same tags. No native speaker has read the translation yet, and they say so.",
        lambda: hold_tags(facts, holds, paper, base, "es"),
        "hold tags, Spanish.pdf",
        PDF,
    )


def _calendar(facts: PaperFacts, live: Live, party: Audience, base: str) -> None:
    st.subheader("For phones and desks", anchor=False)
    st.write(
        "The whole job: an event for each worked day and each visit. Import it again after dates have moved and it "
        "updates in place; what fell away is called off. Plans accepted in the record number the changes, and so "
        "does the calendar that was sent out before."
    )
    before = _sent_before()
    make = partial(_fresh_calendar, facts, live, party, before, base)
    _offer("Calendar (ICS)", "", make, file_name("calendar", party.name, "ics"), ICS)


def _sent_before() -> str:
    """Take the calendar that was sent out before, if somebody gives one; return its text when it can be read."""
    upload = st.file_uploader("Calendar sent out before, if there was one", type=["ics"], key="sent before")
    if upload is None:
        return ""
    try:
        text = upload.getvalue().decode("utf-8", errors="replace")
        st.caption(f"The new calendar follows on from the {count(len(read_calendar(text)), 'event')} sent out before.")
    except BadInput as bad:
        show_refusal(bad)
        return ""
    return text


def _fresh_calendar(facts: PaperFacts, live: Live, party: Audience, before: str, base: str) -> bytes:
    earlier = [PaperFacts(plan, facts.site, facts.network) for plan in recorded(live.place)]
    return calendar(facts, party, made=datetime.now(UTC), earlier=earlier, before=before, base=base)


def _tables(facts: PaperFacts, party: Audience) -> None:
    st.subheader("For spreadsheets", anchor=False)
    st.write("The whole job, a row each. No cell is a formula; one that looks like one begins with an apostrophe.")
    with st.container(horizontal=True, gap="small"):
        for what, table in TABLES.items():
            whom = "" if party == EVERYBODY else party.name
            name = file_name(f"table of {what}", whom, "csv")
            _offer(f"{what.capitalize()} (CSV)", "", partial(_table, table, facts, party), name, CSV)


def _table(table: Callable[[PaperFacts, Audience], str], facts: PaperFacts, party: Audience) -> bytes:
    return table(facts, party).encode("utf-8-sig")


def _offer(label: str, what: str, make: Callable[[], bytes], name: str, mime: str) -> None:
    """Offer a file that is made when its button is pressed, after saying what it is."""
    if what:
        st.write(what)
    st.download_button(label, make, name, mime, key=f"get {label}", on_click="ignore", width=200)


def _base() -> str:
    """Return the address at which phones find this dashboard: the one it was opened at, or what somebody types."""
    parts = urlsplit(st.context.url or "")
    here = f"{parts.scheme}://{parts.netloc}" if parts.netloc and parts.hostname not in HERE_ONLY else ""
    with st.expander("Links and QR codes"):
        st.write("Tags and calendars can carry links to their page here. They need an address that phones reach.")
        typed = st.text_input(
            "Address of this dashboard",
            value=here,
            key="reached at",
            placeholder="such as http://192.0.2.7:8501",
            max_chars=LONGEST,
            persist_state="session",
        )
        try:
            return checked_base((typed or "").strip())
        except BadInput as bad:
            show_refusal(bad)
            return ""
