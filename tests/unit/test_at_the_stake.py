"""What a tag's code opens: its verdict is that of the record, and only who may release is offered it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from app.components import ask_cover
from app.components.at_the_stake import STAKE
from scheduler.ledger import CoverGround, CoverVerdict, fold, may_cover, write_down
from tests.happenings import as_planned
from tests.unit.test_app_live import HOLD, LOOK, case, page, place, planned, texts

__all__ = ["place"]


def until(place, moment) -> None:
    journal = place.open()
    for at, event in as_planned(case(), planned().plan, moment):
        write_down(journal, case().site, case().network, event, at=at, by="Ruth Amsel")
    journal.close()


def planned_at(id_: str):
    return next(a for a in planned().plan.activities if a.id == id_)


def stake(hold: str, *, person: str = ""):
    at = page("inspections", person=person, query={STAKE: hold})
    assert not at.exception
    return at


def rows(at) -> list[tuple[bool, str]]:
    found = re.findall(r"\*\*(Yes|No)\*\*, (.+)", texts(at))
    return [(said == "Yes", what) for said, what in found]


def before_cover():
    """Return the moment before the layer that HOLD is about is covered: released, and photographed."""
    gates = {g for h in case().network.holds if h.id == HOLD for g in h.gates}
    return min(a.start for a in planned().plan.activities if a.id in gates) - timedelta(minutes=1)


@pytest.mark.parametrize("moment", ["begin", "released", "half"])
def test_every_row_says_what_the_record_says(place, moment):
    work = [a for a in planned().plan.activities if a.work_minutes]
    at = {"begin": work[0].finish, "released": before_cover(), "half": work[len(work) // 2].finish}[moment]
    until(place, at)
    with_yes = 0
    site, network = case().site, case().network
    journal = place.open()
    state, now = fold(journal.entries()), journal.entries()[-1].at
    journal.close()
    for hold in [h for h in network.holds if len(h.reaches) == 1][:6]:
        (reach,) = hold.reaches
        hides = [a for a in network.activities if a.reach == reach and a.kind.hides]
        whole = CoverGround(hides[0].alignment, min(a.from_ft for a in hides), max(a.to_ft for a in hides))
        shown, said = rows(at := stake(hold.id)), texts(at)
        assert ("# Yes" in said) == all(ok for ok, _ in shown)
        assert ("# No\n" in said) == (not any(ok for ok, _ in shown))
        assert shown[0][1] == "fill above the lines", "as it lies in the ground"
        assert shown[0][0] == may_cover(site, network, state, whole, now).yes, hold.id
        assert not any(ok for ok, _ in shown) or moment != "begin"
        with_yes += any(ok for ok, _ in shown)
    assert with_yes or moment == "begin", "a test of no alone"


def test_a_hold_that_is_not_released_is_a_no_with_who_must_do_what(place):
    until(place, planned_at(LOOK).finish)
    journal = place.open()
    journal.close()
    at = stake(HOLD)
    assert at.success or at.error or at.warning
    said = texts(at)
    assert "Looked up at" in said
    assert "All hold points and visits" in [b.label for b in at.button]


def test_only_who_may_release_is_offered_the_release(place):
    def offered(person: str) -> bool:
        at = stake(HOLD, person=person)
        assert "To be released by" in texts(at) or person == releaser
        return any(b.label == "Release this hold point" and not b.disabled for b in at.button)

    releaser = next(h.released_by for h in case().network.holds if h.id == HOLD)
    assert offered(releaser)
    assert not offered("r-amsel")
    assert not offered("")


def test_a_tag_of_a_hold_that_is_gone_is_never_a_yes(place):
    at = stake("hold/gone")
    assert not at.success
    assert "# No answer" in texts(at)


def test_a_yes_says_what_must_stay_open(place, monkeypatch):
    kept = "Leave 0+00 to 0+08 open until the tie-in."
    plain = ask_cover.may_cover

    def yes(*asked, **more):
        return replace(plain(*asked, **more), verdict=CoverVerdict.YES, reasons=(), left_open=(kept,))

    until(place, planned_at(LOOK).finish)
    monkeypatch.setattr(ask_cover, "may_cover", yes)
    at = stake(HOLD)
    assert "# Yes" in texts(at)
    assert "Leave ends of lines uncovered (1)" in texts(at)
    assert texts(at).count(kept) == 1, "once, however many layers"


def test_after_the_answer_the_page_stays_at_the_stretch_of_the_tag(place):
    until(place, planned_at(LOOK).finish)
    reach = next(h.reaches[0] for h in case().network.holds if h.id == HOLD)
    at = stake(HOLD).button(key="ask-cover").click().run()
    assert at.selectbox(key="cover-at").value == reach
    assert STAKE not in at.query_params


def test_shading_the_lowest_layer_does_not_wait_for_the_lines_above_it(place):
    layers = {
        r.id: sorted({a.layer for a in case().network.activities if a.kind == "shade" and a.reach == r.id})
        for r in case().site.reaches
    }
    # A reach has more pieces of shading than layers where one of its ends stays open.
    reach = next(r for r, found in layers.items() if len(found) > 1)
    until(place, planned_at(f"{reach}/L{layers[reach][0]}/shade").start)
    at = page("inspections", query={"part": "cover", "cover-at": reach})
    offered = at.radio(key=f"cover-far-{reach}").options
    assert offered[0] == "Fill above the lines"
    assert len(offered) == len(layers[reach]) + 1, "each layer, and the fill"
    assert "**No.** Do not cover" in texts(at)
    at.radio(key=f"cover-far-{reach}").set_value(offered[-1][:1].lower() + offered[-1][1:]).run()
    assert not at.exception
    assert "**Yes.** Nothing on record stands against covering" in texts(at)
    assert "with select fill over layer 1" in texts(at)


def test_the_answer_is_told_in_spanish_where_that_is_asked(place):
    at = page("inspections", query={STAKE: HOLD, "lang": "es"})
    assert not at.exception
    said = texts(at).replace("\\", "")
    assert "# No\nNo tape:" in said
    assert "sin liberar todavía" in said
    assert "Lo resuelve" in said
    assert "sin revisar por un hablante nativo" in said
    for english in ("Do not cover", "not released yet", "Cleared by", "at the earliest", "fill above the lines"):
        assert english not in said, english
