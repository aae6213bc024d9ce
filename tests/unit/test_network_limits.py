"""What is scarce and what is capped: crews, machines, room, open trench, tickets, money, target."""

from __future__ import annotations

import itertools
from datetime import datetime

import pytest

from scheduler.audit import audit
from scheduler.network.lowering import lower
from scheduler.network.model import Network, OpenLimit
from scheduler.network.nearby import Nearby
from scheduler.network.pieces import Ground
from scheduler.site.locates import without_ticket
from scheduler.site.site_record import Site
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from tests.damaging import start_at
from tests.derived import Records, changed, date_rules, network, record, waits


def _when(net: Network, tick: int) -> datetime:
    return net.clock.when(tick).replace(tzinfo=None)


def _space(net: Network, reach: str) -> dict[str, str]:
    (space,) = [s for s in net.spaces if s.reach == reach]
    return dict(space.occupants)


def test_each_trade_is_a_group_of_its_own_in_a_reach_and_machines_are_another() -> None:
    groups = _space(network(), "R2")
    assert groups["R2/L0/lay-P1"] == "elec"
    assert groups["R2/bed"] == groups["R2/L0/shade"] == groups["R2/restore"] == "gc"
    assert groups["R2/dig"] == groups["R2/lifts"] == groups["R2/L0/fill"] == "machine"


def test_machines_within_their_swing_are_in_the_space_of_a_reach_and_people_next_door_are_not() -> None:
    groups = _space(network(), "R2")
    assert groups["R1/dig"] == groups["R3/lifts"] == "machine"
    assert "R1/bed" not in groups
    alone = _space(network(lambda r: r["limits"].update(swing_ft=0)), "R2")
    assert "R1/dig" not in alone
    assert "R2/dig" in alone


def _row(*ends: float) -> Site:
    """Two alignments: one cut at `ends`, and a branch of two reaches that leaves it at 1+00."""

    def change(r: Records) -> None:
        cuts = list(itertools.pairwise(ends))
        r["reaches"] = [{"id": f"A{n}", "alignment": "M", "from": a, "to": b} for n, (a, b) in enumerate(cuts)] + [
            {"id": "B0", "alignment": "B", "from": 0, "to": 15},
            {"id": "B1", "alignment": "B", "from": 15, "to": 40},
        ]

    return changed(change)


@pytest.mark.parametrize(
    ("reach", "swing_ft", "expected"),
    [
        ("A0", 20, {"A1"}),
        ("A1", 20, {"A0", "A2", "B0", "B1"}),
        ("A2", 20, {"A1", "A3", "B0", "B1"}),
        ("B0", 10, {"A1", "A2", "B1"}),
        ("B1", 10, {"B0"}),
        ("B1", 20, {"A1", "A2", "B0"}),
        ("B1", 30, {"A1", "A2", "B0"}),
        ("B1", 40, {"A0", "A1", "A2", "A3", "B0"}),
        ("A3", 35, {"A2", "A1", "B0"}),
        ("A0", 0, set()),
    ],
)
def test_distance_is_measured_along_the_trench_and_round_its_corners(
    reach: str, swing_ft: float, expected: set[str]
) -> None:
    site = _row(0, 80, 100, 120, 160)
    ground = Ground(site)
    assert set(Nearby(site, ground).within(ground.reaches[reach], swing_ft)) == expected


def test_crews_machines_inspectors_and_outside_parties_are_counted() -> None:
    def more(r: Records) -> None:
        record(r, "trades", "elec")["crews"] = 3
        r["equipment"][0]["count"] = 2
        r["equipment"].append({"id": "spare", "name": "Lift", "kind": "lift", "calendar": "crew"})

    found = {r.id: (r.capacity, r.kind.value, r.day_rate) for r in network(more).resources}
    assert found == {
        "crew/gc": (1, "crew", 900),
        "crew/elec": (3, "crew", 800),
        "machine/digger": (2, "machine", 350),
        "inspector/City of Sample/eye": (1, "inspector", 0),
        "outside/Sample Power": (1, "outside party", 0),
    }


def test_a_machine_brings_whoever_runs_it_and_works_when_both_can() -> None:
    def own_operator(r: Records) -> None:
        r["calendars"].append({"id": "late", "name": "late hours", "weekly": ["mon-fri 10:00-18:00"]})
        r["equipment"][0].update(calendar="late")
        del r["equipment"][0]["trade"]

    run_by_gc, own = network(), network(own_operator)
    assert dict(run_by_gc.by_id["R2/dig"].needs) == {"crew/gc": 1, "machine/digger": 1}
    assert dict(own.by_id["R2/dig"].needs) == {"machine/digger": 1}
    assert dict(own.by_id["R2/lifts"].needs) == {"crew/gc": 1, "machine/digger": 1}
    assert own.by_id["R2/dig"].calendar.startswith("late")
    hours = {own.clock.when(t).strftime("%H:%M") for w in own.calendar_of("R2/lifts").windows for t in w}
    assert hours == {"10:00", "15:30"}


def test_open_trench_is_capped_in_feet_that_add_up_over_the_pieces_of_a_reach() -> None:
    def odd(r: Records) -> None:
        r["limits"]["open_trench_ft"] = 130.9
        record(r, "keep_open", "K1")["to"] = 5.5

    (limit,) = network(odd).open_limits
    amounts = dict(limit.amounts)
    assert limit.capacity == 130
    assert amounts == {"R1:1": 6, "R1:2": 94, "R2": 60, "R3": 40}


def test_a_split_reach_counts_once_as_open_until_its_last_piece_is_covered() -> None:
    net = network(lambda r: r["limits"].update(reaches_open=2))
    limit: OpenLimit = next(k for k in net.open_limits if k.id == "reaches-open")
    opening = {o.id: o for o in net.openings}
    assert dict(limit.amounts) == {"R1:all": 1, "R2": 1, "R3": 1}
    assert (limit.capacity, limit.unit) == (2, "reaches")
    assert opening["R1:all"].length_ft == 0, "its feet are counted by its pieces"
    for piece in ("R1:1", "R1:2"):
        assert waits(net, opening["R1:all"].closes, f"{piece}/lifts")
    assert network(lambda r: r.update(limits={})).open_limits == ()


def test_digs_wait_for_the_ticket_and_the_owners_full_working_days() -> None:
    (ticket,) = network().tickets
    net = network()
    assert set(ticket.digs) == {"R1/dig", "R2/dig", "R3/dig"}
    assert _when(net, ticket.clear) == datetime(2026, 6, 11), "called on Monday: Tuesday and Wednesday are the owners'"
    assert _when(net, ticket.expiry) == datetime(2026, 7, 7), "the last of 28 days after the call is 6 July"


def test_what_breaks_ground_is_under_the_ticket() -> None:
    def paved(r: Records) -> None:
        record(r, "reaches", "R2").update(surface="asphalt")
        r["existing"] = [{"id": "g", "kind": "gas", "alignment": "M", "station": 120}]

    (ticket,) = network(paved).tickets
    assert {"R2/cut", "R2/pothole", "R2/dig"} <= set(ticket.digs)


def test_a_given_clear_date_wins_over_the_count() -> None:
    net = network(lambda r: r["locate_tickets"][0].update(clear="2026-06-09T13:10"))
    assert _when(net, net.tickets[0].clear) == datetime(2026, 6, 9, 13, 15), "rounded up to a tick"


def test_renewals_are_called_before_expiry_and_live_from_their_call() -> None:
    net = network(lambda r: r["locate_tickets"][0].update(renewals=2, renew_before_days=2, renewal_cost=60))
    first, second = net.tickets[0].renewals
    # Monday 6 July is the last day; Friday the 3rd is a holiday; so by the end of Wednesday the 1st, counted as in
    # the call centre's own example for Ala. Code 37-15-4: last day Friday 1 August, renew by Wednesday 30 July.
    assert _when(net, first.call_by) == datetime(2026, 7, 2)
    assert first.call_by < net.tickets[0].expiry < first.expiry < second.expiry
    assert _when(net, first.expiry) == datetime(2026, 7, 30)
    assert net.tickets[0].renewal_cost == 60
    assert network(lambda r: r["locate_tickets"][0].update(renewals=0)).tickets[0].renewals == ()


def _two_tickets(r: Records) -> None:
    """Call a second ticket for the branch two days later, good for ten days."""
    r["locate_tickets"].append(
        r["locate_tickets"][0] | {"id": "T2", "called": "2026-06-10 08:00", "life_days": 10, "alignments": ["B"]}
    )


def test_every_ticket_over_the_ground_of_a_dig_counts() -> None:
    net = network(_two_tickets)
    assert {t.id: set(t.digs) for t in net.tickets} == {"T1": {"R1/dig", "R2/dig", "R3/dig"}, "T2": {"R3/dig"}}
    first, second = net.tickets
    on_branch = [b for b in lower(net).bounds if b.activity == "R3/dig" and b.family == "tickets"]
    assert max(b.at for b in on_branch if b.sense == "min") == second.clear > first.clear
    assert min(b.at for b in on_branch if b.sense == "max") == second.expiry < first.expiry
    assert {later.id for b in on_branch for later in b.later} >= {r.id for t in net.tickets for r in t.renewals}


def test_the_solver_keeps_to_every_ticket_over_a_dig_and_the_audit_names_the_one_that_is_not_kept() -> None:
    net = network(_two_tickets)
    first, second = net.tickets
    found = solve(net, Options(workers=1, only_finish=True, start_effort=0.01, finish_effort=0.02)).schedule
    assert found is not None
    assert audit(net, found) == []
    assert found.dates["R3/dig"][0] >= second.clear
    early = {f.rule for f in audit(net, start_at(net, found, {"R3/dig": first.clear}))}
    late = {f.rule for f in audit(net, start_at(net, found, {"R3/dig": second.expiry}))}
    assert "T2" in early & late
    assert "T1" not in early | late


def test_ground_that_no_ticket_covers_is_known_unless_none_is_needed_there() -> None:
    def main_only(r: Records) -> None:
        r["locate_tickets"][0]["alignments"] = ["M"]

    def not_needed(r: Records) -> None:
        main_only(r)
        record(r, "alignments", "B")["locate_not_needed"] = "New fill placed by us last week; nothing lies in it."

    assert without_ticket(changed()) == []
    assert [a.id for a in without_ticket(changed(main_only))] == ["B"]
    assert [a.id for a in without_ticket(changed(lambda r: r.pop("locate_tickets")))] == ["M", "B"]
    assert without_ticket(changed(not_needed)) == []


def test_a_trade_comes_no_sooner_than_its_notice_said_of_what_could_be_its_first_work() -> None:
    net = network()
    (rule,) = date_rules(net, "R2/L0/lay-P1")
    assert _when(net, rule.at) == datetime(2026, 6, 10, 7)
    assert "Sample Electric" in rule.because
    assert date_rules(net, "line/P1/prove") == [], "it comes after other work of the same trade"
    assert date_rules(net, "R1/dig") == [], "the general trade asks for none"


def test_mobilisations_charges_rates_and_target_are_passed_on() -> None:
    net = network(lambda r: record(r, "outside_work", "U1").update(cost=300))
    (crew,) = [m for m in net.mobilisations if m.id == "mobilise/elec"]
    (charge,) = [m for m in net.mobilisations if m.id == "mobilise/outside/U1"]
    assert {m.cost for m in net.mobilisations if m not in (crew, charge)} == {None}, "the file gives no price"
    assert (crew.cost, crew.stay_days) == (250, 3)
    assert set(crew.activities) == {a.id for a in net.activities if a.trade == "elec"}
    assert (charge.cost, charge.activities) == (300, ("outside/U1",))
    assert (net.rates.overhead_per_day, net.rates.exposure_per_ft_night) == (400, 0.5)
    assert net.target
    assert _when(net, net.target.at) == datetime(2026, 7, 11), "the end of 10 July"
    assert network(lambda r: r["site"].pop("target_finish")).target is None
