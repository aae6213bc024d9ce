"""The picture of what a new plan moves."""

from __future__ import annotations

from datetime import timedelta

from app.figures.before_after import before_after_figure
from tests.pictures import pictured
from tests.unit.test_app_live import case, planned


def test_before_and_now_draws_what_moved_hollow_then_filled():
    before = planned()
    moved = [a for a in before.plan.activities if a.kind == "lay"][:3]
    later = {a.id: (a.start + timedelta(days=7), a.finish + timedelta(days=7)) for a in moved}
    rows = [
        a.model_copy(update={"start": later[a.id][0], "finish": later[a.id][1]}) if a.id in later else a
        for a in before.plan.activities
    ]
    was = pictured(case().site, case().network, before.schedule)
    now = type(was)(was.plan.model_copy(update={"activities": rows}), case().network, case().site)
    figure = before_after_figure(was, now, later, since=before.plan.data_date)
    filled = [t for t in figure.data if t.type == "bar" and t.customdata is not None]
    drawn = {i for t in filled for i in t.customdata}
    assert drawn == set(later)
    names = {a.text for a in figure.layout.annotations}
    assert names == {f"<b>{was.trade_name(a)}</b>" for a in moved}
    ticks = figure.layout.yaxis.ticktext
    assert list(ticks) == ["before", "now"] * len(names)
