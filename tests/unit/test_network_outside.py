"""What others do: keep-open stretches, what outside work needs first, windows, notice, bookings."""

from __future__ import annotations

from datetime import datetime

import pytest

from scheduler.network.kind import Kind
from scheduler.network.network_check import check_network
from tests.derived import Records, date_rules, hold, network, record, waits


def _work(**more: object):  # type: ignore[no-untyped-def]
    return lambda r: record(r, "outside_work", "U1").update(more)


def test_a_reach_is_split_where_a_stretch_is_kept_open_and_only_that_piece_waits() -> None:
    net = network()
    pieces = {o.id: (o.length_ft, o.opens, o.closes) for o in net.openings}
    assert pieces["R1:1"] == (6, "R1/dig", "R1:1/lifts")
    assert pieces["R1:2"] == (94, "R1/dig", "R1:2/lifts")
    assert hold(net, "hold/K1").gates == ("R1:1/L0/shade",)
    assert hold(net, "hold/K1").look == "outside/U1"
    assert hold(net, "hold/K1").released_by == "wire"
    assert waits(net, "R1:1/lifts", "outside/U1")
    assert not waits(net, "R1:2/lifts", "outside/U1")


def test_the_lines_that_the_event_works_on_lie_loose_in_the_kept_piece_and_others_wait() -> None:
    net = network()
    assert net.by_id["R1/L0/lay-P1"].work == 10, "100 ft at 40 ft per hour, the loose 6 ft included"
    assert waits(net, "R1:1:later/L1/lay-C1", "outside/U1")
    assert not waits(net, "R1/L1/lay-C1", "outside/U1")
    both = network(_work(lines=["P1", "C1"]))
    assert "R1:1:later/L1/lay-C1" not in both.by_id, "the event works on it, so it lies loose before"
    assert waits(both, "outside/U1", "R1/L1/lay-C1")
    assert waits(both, "R1:1/L1/shade", "R1/L1/lay-C1")
    assert check_network(both) == []


def test_layers_under_the_lines_of_the_event_are_covered_as_usual() -> None:
    net = network(_work(lines=["C1"]))
    assert hold(net, "hold/K1").gates == ("R1:1/L1/shade",)
    assert not waits(net, "R1:1/L0/shade", "outside/U1")


def test_two_events_may_keep_the_same_stretch_open() -> None:
    def two(r: Records) -> None:
        r["outside_work"].append(record(r, "outside_work", "U1") | {"id": "U2", "by": "Sample Phone", "lines": ["C1"]})
        r["keep_open"].append(record(r, "keep_open", "K1") | {"id": "K2", "until": "U2", "to": 10})

    net = network(two)
    assert [o.length_ft for o in net.openings if o.reach == "R1"] == [6, 4, 90]
    assert waits(net, "R1:1/lifts", "outside/U1")
    assert waits(net, "R1:1/lifts", "outside/U2")
    assert not waits(net, "R1:2/lifts", "outside/U1")
    assert check_network(net) == []


@pytest.mark.parametrize(
    ("state", "waited", "free"),
    [
        ("none", [], ["R1/L0/lay-P1", "look/I1/R1/L0"]),
        ("laid", ["R1/L0/lay-P1", "R2/L0/lay-P1"], ["look/I1/R2/L0"]),
        ("inspected", ["look/I1/R1/L0", "look/I1/R2/L0"], ["R2/L0/shade", "look/I1/R2/L1"]),
        ("covered", ["look/I1/R1/L0", "R1:2/lifts", "R2/lifts"], ["R1:1/L0/shade", "R2/restore"]),
    ],
)
def test_outside_work_waits_until_its_lines_are_as_far_as_it_asks(
    state: str, waited: list[str], free: list[str]
) -> None:
    net = network(_work(lines_state=state, needs_inspections=[]))
    assert all(waits(net, "outside/U1", done) for done in waited)
    assert not any(waits(net, "outside/U1", done) for done in free)
    assert check_network(net) == []


def test_the_hold_of_a_test_has_run_before_outside_work_that_needs_it() -> None:
    def gas(r: Records) -> None:
        record(r, "lines", "W1")["test"]["hold_hours"] = 5
        r["inspections"] = []
        _work(lines=["W1"], needs_inspections=[])(r)

    net = network(gas)
    lags = {k.before: k.lag for k in net.links if k.after == "outside/U1"}
    assert lags == {"R1/L0/test-W1": 20, "R3/L0/test-W1": 20}


def test_the_exception_for_kept_stretches_holds_for_the_whole_chain_before_the_event() -> None:
    def chain(r: Records) -> None:
        first = record(r, "outside_work", "U1") | {"id": "U0", "lines_state": "covered"}
        r["outside_work"].append(first)
        _work(after=["U0"])(r)

    net = network(chain)
    assert waits(net, "outside/U1", "outside/U0")
    assert waits(net, "outside/U0", "R1:2/lifts")
    assert check_network(net) == [], "U0 cannot wait for cover that waits for U1"


def test_later_outside_work_waits_for_the_kept_stretch_too() -> None:
    def chain(r: Records) -> None:
        r["outside_work"].append(
            record(r, "outside_work", "U1") | {"id": "U2", "after": ["U1"], "lines_state": "covered"}
        )

    assert waits(network(chain), "outside/U2", "R1:1/lifts")


def test_needed_inspections_count_on_the_lines_of_the_work() -> None:
    needed = network(_work(lines=["C1"], lines_state="laid"))
    assert waits(needed, "outside/U1", "look/I1/R2/L1")
    everything = network(_work(lines=[], lines_state="none"))
    assert waits(everything, "outside/U1", "look/I1/R3/L1")
    assert not waits(network(_work(lines=[], lines_state="none", needs_inspections=[])), "outside/U1", "look/I1/R3/L1")


def test_a_conduit_is_proved_before_anyone_pulls_through_it() -> None:
    assert waits(network(), "outside/U1", "line/P1/prove")
    assert not waits(network(_work(kind="other")), "outside/U1", "line/P1/prove")


def test_offered_starts_are_the_only_ones() -> None:
    net = network(_work(offered=["2026-07-01T09:00", "2026-07-03T13:00"], hours=2))
    activity = net.by_id["outside/U1"]
    windows = [
        tuple(net.clock.when(t).replace(tzinfo=None) for t in w) for w in net.calendars[activity.calendar].windows
    ]
    assert windows == [
        (datetime(2026, 7, 1, 9), datetime(2026, 7, 1, 11)),
        (datetime(2026, 7, 3, 13), datetime(2026, 7, 3, 15)),
    ]
    assert activity.one_window


def test_an_outage_is_one_go_and_said_so() -> None:
    activity = network(_work(kind="cutover", outage=True, one_window=False)).by_id["outside/U1"]
    assert activity.kind is Kind.CUTOVER
    assert activity.one_window
    assert "outage" in activity.because


def test_outside_work_too_long_for_its_windows_is_reported_not_bent() -> None:
    net = network(_work(hours=9))
    assert net.by_id["outside/U1"].one_window
    assert [f.rule for f in check_network(net)] == ["network.window-too-short"]


def test_a_trade_that_does_outside_work_brings_its_crew_and_its_hours() -> None:
    net = network(_work(trade="elec"))
    activity = net.by_id["outside/U1"]
    assert (activity.trade, activity.needs) == ("elec", (("crew/elec", 1),))
    assert activity.calendar == "utility&crew"
    theirs = network().by_id["outside/U1"]
    assert (theirs.trade, theirs.needs) == ("", (("outside/Sample Power", 1),))


def test_outside_work_occupies_every_reach_it_is_in() -> None:
    net = network(_work(at={"alignment": "M", "from": 95, "to": 110}))
    for reach in ("R1", "R2"):
        (space,) = [s for s in net.spaces if s.reach == reach]
        assert ("outside/U1", "Sample Power") in space.occupants
    assert not any("outside/U1" in dict(s.occupants) for s in net.spaces if s.reach == "R3")


def test_notice_of_outside_work_is_counted_in_its_own_days() -> None:
    net = network()
    (rule,) = date_rules(net, "outside/U1")
    assert net.clock.when(rule.at).replace(tzinfo=None) == datetime(2026, 6, 11, 8), "Monday, then Tue, Wed, Thu"
    assert (rule.edge, rule.sense) == ("start", "min")


def test_a_riser_waits_for_the_pole_it_stands_on() -> None:
    def pole(r: Records) -> None:
        riser = {"id": "RS", "kind": "riser", "name": "Riser", "alignment": "M", "station": 0, "trade": "elec"}
        r["structures"].append(riser | {"lines": ["P1"]})
        setter = {"id": "SP", "name": "Set the pole", "by": "Sample Power", "kind": "set_pole", "calendar": "utility"}
        r["outside_work"].append(setter | {"lines_state": "none"})

    assert waits(network(pole), "R1/set-RS", "outside/SP")

    def own_pole(r: Records) -> None:
        pole(r)
        record(r, "structures", "S1")["trade"] = "elec"

    assert not waits(network(own_pole), "R1/set-RS", "outside/SP")


def _booked(start: str, **more: object):  # type: ignore[no-untyped-def]
    return lambda r: record(r, "bookings", "BK1").update(start=start, **more)


def test_a_soft_booking_may_move_at_its_cost_and_a_firm_one_is_fixed() -> None:
    (soft,) = network(_booked("2026-06-30T09:00", move_cost=75)).bookings
    assert (soft.firm, soft.move_cost, soft.activities) == (False, 75, ("outside/U1",))
    assert soft.until == soft.at + 1
    (firm,) = network(_booked("2026-06-30T09:00", firm=True)).bookings
    assert firm.firm


def test_inside_its_notice_a_booking_can_no_longer_move_and_notice_no_longer_binds() -> None:
    net = network(_booked("2026-06-10T09:00"))
    (booking,) = net.bookings
    assert booking.firm
    assert "notice" in booking.because
    assert date_rules(net, "outside/U1") == []


def test_a_booked_visit_is_for_the_first_looks_of_its_reaches_and_lasts_the_window() -> None:
    net = network(_booked("2026-06-26T09:00", of="I1", reaches=["R1", "R3"]))
    (booking,) = net.bookings
    assert booking.activities == ("look/I1/R1/L0", "look/I1/R3/L0")
    assert [net.clock.when(t).hour for t in (booking.at, booking.until)] == [9, 11]
    (anywhere,) = network(_booked("2026-06-26T09:00", of="I1")).bookings
    assert anywhere.activities == ("look/I1/R1/L0", "look/I1/R2/L0", "look/I1/R3/L0")


def test_fittings_of_a_line_are_in_before_work_on_it_even_without_an_inspection() -> None:
    def riser(r: Records) -> None:
        thing = {"id": "RS", "kind": "riser", "name": "Riser", "alignment": "M", "station": 0, "trade": "elec"}
        r["structures"].append(thing | {"lines": ["P1"]})
        r["inspections"] = []
        _work(kind="other", needs_inspections=[])(r)

    assert waits(network(riser), "outside/U1", "R1/set-RS")
