"""The card of a stretch: its story is what is on record of that stretch, and of no other."""

from __future__ import annotations

from types import SimpleNamespace

from app.components.stretch_card import TOUCHED, is_about
from scheduler.ledger import read_event
from scheduler.situation import StretchStands
from tests.unit.test_app_live import HOLD, LOOK, case, page, place, texts, tuesday, written

__all__ = ["place"]


def stretch(reach: str) -> StretchStands:
    network = case().network
    opening = next(o for o in network.openings if o.reach == reach)
    closes = network.by_id[opening.closes]
    return SimpleNamespace(  # type: ignore[return-value]
        reach=reach, alignment=closes.alignment, from_ft=closes.from_ft, to_ft=closes.to_ft, opening=opening.id
    )


def test_what_names_the_place_the_work_or_the_hold_point_of_a_stretch_is_about_it_and_about_no_other():
    network, live = case().network, SimpleNamespace(case=case())
    hold = next(h for h in network.holds if h.id == HOLD)
    here = stretch(hold.reaches[0])
    other = next(stretch(o.reach) for o in network.openings if network.by_id[o.closes].alignment != here.alignment)
    when = tuesday()
    dig = next(a.id for a in network.activities if a.reach == here.reach)
    events = [
        read_event("started", {"activity": dig, "when": when}),
        read_event("inspection_passed", {"looks": (LOOK,), "inspector": hold.released_by, "when": when}),
        read_event("cover_reported", {"alignment": here.alignment, "from_ft": 0, "to_ft": here.to_ft, "when": when}),
    ]
    for event in events:
        assert is_about(live, event, here), event.name
        assert not is_about(live, event, other), event.name
    assert not is_about(live, read_event("note_kept", {"words": "Fair weather.", "when": when}), here)


def test_a_touched_stretch_shows_its_card_on_every_page_with_the_picture(place, monkeypatch):
    network = case().network
    dig = next(a for a in network.activities if a.id == network.openings[0].opens)
    written(place, read_event("started", {"activity": dig.id, "when": tuesday()}))
    from streamlit.testing.v1 import AppTest

    before = AppTest.run

    def touched(self, *more, **how):
        self.session_state[TOUCHED] = network.openings[0].id
        self.session_state["pages"] = {}
        return before(self, *more, **how)

    monkeypatch.setattr(AppTest, "run", touched)
    monkeypatch.setattr("app.components.stretch_card._ways_on", lambda *_: None)
    for screen in ("today", "trench", "record", "inspections"):
        at = page(screen, query={"part": "holds"})
        assert not at.exception, screen
        assert "**Next here**" in texts(at), screen
        assert "On record here (1)" in [e.label for e in at.expander], screen
