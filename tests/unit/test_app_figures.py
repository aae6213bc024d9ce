"""The figures of the schedule: where time is, what overlaps, what is marked, and what they say in words."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import plotly.graph_objects as go
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.figures.bands import band_rows, bands_figure, folded
from app.figures.frame import PEN, THREAD
from app.figures.key import SIGNS, key_figure
from app.figures.marks import EARTH, OTHER, look_of
from app.figures.palette import MARKS
from app.figures.scale import IDLE_DAY, DayScale
from app.figures.stations_figure import stations_figure
from app.figures.thread import thread_figure
from app.figures.work import lanes
from scheduler.explain.chain import chains
from scheduler.measures import exposure, midnights
from scheduler.network.kind import Kind
from scheduler.plan import PlanActivity
from tests.pictures import SITES, bundled, picture

MONDAY = date(2027, 3, 1)
PHONE_PX = 257
"""What a schedule has across on a screen of 390 px, measured in the browser."""


def week(hours=(7, 15.5), days=range(5)):
    """Return open stretches on weekdays of one week."""
    midnight = datetime.combine(MONDAY, datetime.min.time())
    return [(midnight + timedelta(days=d, hours=hours[0]), midnight + timedelta(days=d, hours=hours[1])) for d in days]


def at(day, hour):
    return datetime(2027, 3, day) + timedelta(hours=hour)


def scale(days=7, opened=None):
    return DayScale.over(MONDAY, MONDAY + timedelta(days=days - 1), week() if opened is None else opened)


def two_weeks(pic):
    first = pic.plan.data_date.date()
    return {"first": first, "last": first + timedelta(days=13)}


def bars(figure):
    return [t for t in figure.data if isinstance(t, go.Bar)]


def stroked(figure, colour):
    """Return the strokes of a colour as (x0, y0, x1, y1)."""
    found = []
    for trace in figure.data:
        if isinstance(trace, go.Scatter) and trace.mode == "lines" and trace.line.color == colour:
            points = list(zip(trace.x, trace.y, strict=True))
            found += [(*a, *b) for a, b in pairwise(points) if a[0] is not None and b[0] is not None]
    return found


def test_a_look_of_half_an_hour_is_its_share_of_the_working_day_and_seen_on_a_phone():
    look = scale().at(at(3, 10.5)) - scale().at(at(3, 10))
    assert look == pytest.approx(0.5 / 8.5)
    assert look / scale(14, week() + week(days=range(7, 12))).length * PHONE_PX > 1
    assert look > 2 * (0.5 / 24), "a scale with nights would show less than half of it"


def test_nights_have_no_length_and_days_without_work_little():
    s = scale()
    assert s.at(at(1, 15.5)) == s.at(at(1, 20)) == s.at(at(2, 7))
    assert s.at(at(7, 0)) - s.at(at(6, 0)) == pytest.approx(IDLE_DAY)
    assert s.length == pytest.approx(5 + 2 * IDLE_DAY)


def test_moments_outside_the_scale_are_held_at_its_ends():
    assert scale().at(at(1, 0) - timedelta(days=9)) == 0
    assert scale().at(at(1, 0) + timedelta(days=90)) == scale().length


def test_closed_time_is_what_nobody_works():
    opened = [*week(days=[0]), *week(hours=(7, 12), days=[1])]
    s = scale(3, opened)
    assert s.closed(opened) == [pytest.approx((s.at(at(2, 12)), s.length))]


@given(
    st.sets(st.integers(0, 20), min_size=1),
    st.lists(st.integers(0, 20 * 96 - 1), max_size=20),
)
def test_positions_never_run_backwards_and_closed_time_is_the_rest(days, moments):
    opened = week(days=sorted(days))
    s = scale(21, opened)
    whens = sorted(at(1, 0) + timedelta(minutes=15 * m) for m in moments)
    assert all(s.at(a) <= s.at(b) for a, b in pairwise(whens))
    worked = sum(s.at(b) - s.at(a) for a, b in opened)
    assert worked + sum(b - a for a, b in s.closed(opened)) == pytest.approx(s.length)


@pytest.mark.parametrize("weeks", [2, 4, 8, 20, 52])
def test_day_labels_leave_room_for_one_another_on_a_phone(weeks):
    opened = week(days=[7 * w + d for w in range(weeks) for d in range(5)])
    positions, labels = scale(7 * weeks, opened).ticks(14)
    px = PHONE_PX / scale(7 * weeks, opened).length
    assert 4 <= len(positions) <= 14
    assert min(b - a for a, b in pairwise(positions)) * px > 17, "two letters of 12 px type"
    assert labels[0] == "Mar<br>Mo<br>1"
    assert "Apr" not in labels[1]


def test_one_day_is_labelled_by_the_hour():
    positions, labels = scale(1).ticks(14)
    assert labels == ["Mon 1 Mar<br>8:00", "10:00", "12:00", "14:00"]
    assert positions == sorted(positions)


def test_the_first_of_each_week_is_labelled_when_days_are_many():
    days = [on for _, on in scale(28, week(days=[0, 1, 8, 9, 15, 16, 22])).days(5)]
    assert [d.day for d in days] == [1, 9, 16, 23]


def stretch(index, start, minutes):
    begin = at(1, 0).replace(tzinfo=UTC) + timedelta(minutes=start)
    finish = begin + timedelta(minutes=minutes)
    return PlanActivity(id=str(index), name="w", kind=Kind.DIG, start=begin, finish=finish, work_minutes=minutes)


@given(st.lists(st.tuples(st.integers(0, 300), st.integers(1, 90)), max_size=30))
def test_lanes_never_overlap_and_are_as_few_as_can_be(pairs):
    work = [stretch(i, start, minutes) for i, (start, minutes) in enumerate(pairs)]
    dealt = lanes(work)
    assert sorted(a.id for lane in dealt for a in lane) == sorted(a.id for a in work)
    assert all(a.finish <= b.start for lane in dealt for a, b in pairwise(lane))
    most_at_once = max((sum(b.start <= a.start < b.finish for b in work) for a in work), default=0)
    assert len(dealt) == most_at_once


@pytest.mark.parametrize("name", SITES)
def test_every_piece_of_work_stands_once_in_its_band(name):
    pic = picture(name)
    for name_of in (pic.trade_name, pic.place_name, pic.alignment_name):
        rows = band_rows(name_of, pic.plan.activities)
        assert sorted(a.id for r in rows for a in r.activities) == sorted(pic.work)
        assert all(name_of(a) == r.band for r in rows for a in r.activities)
        bands = [r.band for r in rows]
        assert bands == sorted(bands, key=bands.index), "the lanes of a band stand together"


@pytest.mark.parametrize("name", SITES)
def test_patches_in_a_lane_do_not_overlap(name):
    pic = picture(name)
    figure = bands_figure(pic, band_rows(pic.trade_name, pic.plan.activities), **two_weeks(pic))
    lanes_of = {}
    for bar in bars(figure):
        for y, base, x in zip(bar.y, bar.base, bar.x, strict=True):
            lanes_of.setdefault(round(y, 6), []).append((base, base + x))
    assert len(lanes_of) > 3
    for spans in lanes_of.values():
        assert all(a[1] <= b[0] + 1e-9 for a, b in pairwise(sorted(spans)))


@pytest.mark.parametrize("name", SITES)
def test_patches_are_as_long_as_the_hours_worked(name):
    pic = picture(name)
    days = two_weeks(pic)
    opened = pic.opened(days["first"], days["last"])
    s = DayScale.over(days["first"], days["last"], opened)
    longest = max(b - a for a, b in s.opened)
    figure = bands_figure(pic, band_rows(pic.trade_name, pic.plan.activities), **days)
    drawn = {}
    for bar in bars(figure):
        for key, x in zip(bar.customdata, bar.x, strict=True):
            drawn[key] = drawn.get(key, 0) + x * longest * 60
    whole = [a for a in pic.plan.activities if a.finish.date() <= days["last"]]
    assert len(whole) > 40
    for a in whole:
        assert drawn[a.id] == pytest.approx(a.work_minutes, abs=0.5), a.id


@pytest.mark.parametrize("name", SITES)
def test_what_moves_the_finish_is_underlined_and_nothing_else(name):
    pic = picture(name)
    figure = bands_figure(pic, band_rows(pic.trade_name, pic.plan.activities), **two_weeks(pic))
    lines = stroked(figure, THREAD)
    under = sorted((round(x0, 6), round(x1, 6)) for x0, _, x1, _ in lines)
    critical = sorted(
        (round(base, 6), round(base + x, 6))
        for bar in bars(figure)
        for key, base, x in zip(bar.customdata, bar.base, bar.x, strict=True)
        if pic.work[key].critical
    )
    assert under == critical
    assert under


@pytest.mark.parametrize("name", SITES)
@pytest.mark.parametrize("view", ["bands", "stations"])
def test_a_gate_stands_before_all_work_that_waits_and_an_eye_at_every_look(name, view):
    pic = picture(name)
    days = two_weeks(pic)
    if view == "bands":
        figure = bands_figure(pic, band_rows(pic.trade_name, pic.plan.activities), **days)
        inside = list(pic.plan.activities)
    else:
        alignment = pic.site.alignments[0].id
        figure = stations_figure(pic, alignment, **days)
        inside = [a for a in pic.plan.activities if a.alignment == alignment and a.reach]
    inside = [a for a in inside if a.start.date() <= days["last"]]
    points = [t for t in figure.data if isinstance(t, go.Scatter) and t.mode == "markers"]
    eyes = next(t for t in points if t.marker.symbol == "circle-dot")
    caps = next(t for t in points if t.marker.symbol in ("line-ew", "line-ns"))
    assert len(eyes.x) == sum(a.kind == Kind.INSPECT for a in inside) > 0
    gated = {gate for hold in pic.network.holds for gate in hold.gates}
    assert len(caps.x) == 2 * sum(a.id in gated for a in inside) > 0


def test_closed_time_is_shaded_across_the_whole_figure():
    pic = picture("orchard-lane")
    figure = bands_figure(pic, band_rows(pic.trade_name, pic.plan.activities), **two_weeks(pic))
    shapes = figure.layout.shapes
    assert all((s.yref, s.y0, s.y1, s.layer) == ("paper", 0, 1, "below") for s in shapes)
    days = two_weeks(pic)
    scale_ = DayScale.over(days["first"], days["last"], pic.opened(days["first"], days["last"]))

    def shaded(day, hour):
        return any(s.x0 < scale_.at(at(day, hour)) < s.x1 for s in shapes)

    assert all(shaded(day, 12) for day in (6, 7, 13, 14))
    assert not any(shaded(day, 12) for day in (1, 2, 3, 4, 5, 8, 9, 10, 11, 12))


@pytest.mark.parametrize("name", SITES)
def test_heights_stay_within_bounds(name):
    pic = picture(name)
    first, last = pic.plan.data_date.date(), max(a.finish for a in pic.plan.activities).date()
    for name_of in (pic.trade_name, pic.place_name, pic.alignment_name):
        figure = bands_figure(pic, band_rows(name_of, pic.plan.activities), first=first, last=last)
        assert figure.layout.height < 1300
    assert stations_figure(pic, pic.site.alignments[0].id, first=first, last=last).layout.height <= 1600


@pytest.mark.parametrize("name", SITES)
def test_patches_along_an_alignment_lie_at_their_stations(name):
    pic = picture(name)
    alignment = pic.site.alignments[0]
    figure = stations_figure(pic, alignment.id, **two_weeks(pic))
    count = 0
    for bar in bars(figure):
        for key, left, length in zip(bar.customdata, bar.base, bar.x, strict=True):
            assert (left, left + length) == pytest.approx((pic.work[key].from_ft, pic.work[key].to_ft))
            assert 0 <= left < left + length <= alignment.length_ft
            count += 1
    assert count > 20
    low, high = figure.layout.yaxis.range
    assert low > high, "dates run down"
    assert len(figure.layout.xaxis.tickvals) <= 7


def test_work_picked_is_framed():
    pic = picture("orchard-lane")
    rows = band_rows(pic.trade_name, pic.plan.activities)
    one = pic.plan.activities[0]
    plain = bands_figure(pic, rows, **two_weeks(pic))
    framed = bands_figure(pic, rows, picked=one.id, **two_weeks(pic))
    blocks = len(pic.worked(one))
    assert len(stroked(framed, PEN)) - len(stroked(plain, PEN)) == 4 * blocks > 0


@pytest.mark.parametrize("name", SITES)
def test_the_thread_visits_its_steps_in_order(name):
    _, network, schedule = bundled(name)
    pic = picture(name)
    steps = [pic.work[s.activity] for s in chains(network, schedule, 1)[0].steps]
    figure = thread_figure(pic, steps)
    thread = figure.data[-1]
    assert len(thread.x) == 2 * len(steps) > 10
    assert all(a <= b for a, b in pairwise(thread.x))
    assert len(figure.layout.yaxis.ticktext) == len({pic.place_name(a) for a in steps})


@pytest.mark.parametrize("name", SITES)
def test_no_two_sorts_of_work_look_alike_even_without_colour(name):
    pic = picture(name)
    looks = {pic.look(a) for a in pic.plan.activities}
    assert len(looks) > 12
    assert len({(k.hatch, k.letters, k.ink) for k in looks}) == len(looks)
    assert all(k.letters for k in looks if k.name != "Other work")


def test_every_kind_of_work_and_line_has_letters_of_its_own():
    everything = [*EARTH.values(), *OTHER.values()]
    assert len({k.letters for k in everything}) == len(everything)
    for kind, mark in MARKS.items():
        look = look_of(Kind.LAY, ["l"], {"l": kind})
        assert (look.colour, look.letters) == (mark.colour, mark.label)


def luminance(colour: str) -> float:
    """The relative luminance of WCAG 2.1."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("ground", ["#fbf9f4", "#1b1e22"])
def test_every_look_stands_out_from_the_page_in_light_and_dark(ground):
    """Its frame helps, so that less than the 3 to 1 of WCAG 2.1, 1.4.11 will do for the fill alone."""
    for look in [*EARTH.values(), *OTHER.values()]:
        low, high = sorted([luminance(look.colour), luminance(ground)])
        assert (high + 0.05) / (low + 0.05) > 1.7, look.name


def test_the_key_names_every_look_and_sign():
    pic = picture("orchard-lane")
    said = [a.text for a in key_figure(pic).layout.annotations]
    assert set(said) == {pic.look(a).name for a in pic.plan.activities} | set(SIGNS)


def test_pointing_at_work_tells_who_when_and_how_much_room():
    pic = picture("orchard-lane")
    figure = bands_figure(pic, band_rows(pic.trade_name, pic.plan.activities), **two_weeks(pic))
    told = {k: t for bar in bars(figure) for k, t in zip(bar.customdata, bar.hovertext, strict=True)}
    for key, text in told.items():
        work = pic.work[key]
        assert work.name in text
        assert pic.trade_name(work) in text
        assert ("moves the finish" in text) == work.moves_finish
        assert ("no slack" in text) == (work.total_float_minutes == 0 and not work.moves_finish)
        assert ("waits at a hold point" in text) == (key in pic.gated)


def test_figures_show_names_as_text_only():
    pic = picture("orchard-lane")
    evil = "<a href='x'>Dig</a> & <script>"
    work = pic.plan.activities[0].model_copy(update={"name": evil})
    figure = bands_figure(pic, band_rows(lambda _: evil, [work]), **two_weeks(pic))
    shown = [*figure.layout.yaxis.ticktext, *(t for bar in bars(figure) for t in bar.hovertext)]
    assert all("<a" not in t and "<script" not in t for t in shown)
    assert any("&lt;script&gt;" in t for t in shown)


@pytest.mark.parametrize(
    ("name", "lines"),
    [
        ("Site crew", ["Site crew"]),
        ("Outside parties", ["Outside parties"]),
        ("Main drive trench 0+84-1+60", ["Main drive tre…", "0+84-1+60"]),
        ("Lot 1 lateral 0+00-0+24", ["Lot 1 lateral", "0+00-0+24"]),
        ("Donaudampfschifffahrt", ["Donaudampfschi…"]),
        ("A & B", ["A &amp; B"]),
    ],
)
def test_long_band_names_keep_the_stations_that_tell_them_apart(name, lines):
    assert folded(name).split("<br>") == lines


@pytest.mark.parametrize("name", SITES)
def test_feet_open_each_night_add_up_to_the_exposure_of_the_plan(name):
    _, network, schedule = bundled(name)
    pic = picture(name)
    nights = midnights(network.clock, network.data_date, schedule.finish)
    evenings = [network.clock.when(n).date() - timedelta(days=1) for n in nights]
    assert sum(pic.open_ft(on) for on in evenings) == pytest.approx(exposure(network, schedule.dates))
