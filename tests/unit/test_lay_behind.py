"""Work behind the dig: how far, when it may begin, who may be where, and what the audit says of it."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from random import Random

import pytest

from scheduler.audit import audit
from scheduler.errors import BadInput
from scheduler.findings import Severity
from scheduler.ledger.events import Event, Started
from scheduler.ledger.state import fold
from scheduler.network.contingency import with_contingency
from scheduler.network.kept_behind import KeptBehind
from scheduler.network.kind import Kind
from scheduler.network.lowering import lower
from scheduler.network.model import LinkType, Network
from scheduler.network.network_check import check_network
from scheduler.schedule import Schedule, Span
from scheduler.site.files import read_site
from scheduler.situation.job_facts import facts_at
from scheduler.situation.standing import standing
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from scheduler.worktime.calendar import Calendar
from tests.damage import people_in_the_swing_of_the_dig
from tests.damaging import span_from, start_at
from tests.derived import Records, behind_the_dig, changed, network, record, waits
from tests.happenings import entries
from tests.jobs import CREW, at, broken, job, task
from tests.small_site import FILE, damaged
from tests.unit.test_members import proved

RULE = KeptBehind("behind", "dig", "bed", length_ft=100, apart_ft=20)


@pytest.mark.parametrize(
    ("rule", "dig", "bed", "expected"),
    [
        (RULE, 10, 10, (2, 2)),  # 20 ft are dug in 2 ticks; at 80 ft the bed waits for the last 2 ticks of the dig
        (RULE, 10, 20, (2, 4)),  # the bed is slower: it falls back, and lays its last 20 ft in 4 ticks
        (RULE, 20, 10, (12, 2)),  # the bed is quicker: its 80 ft of 8 ticks end with the dig, 12 ticks after its start
        (RULE, 9, 3, (7, 0)),  # 9 - 3 x 0.8 = 6.6, in whole ticks 7
        (replace(RULE, apart_ft=100), 10, 4, (10, 4)),  # as if it waited for all of it
        (replace(RULE, before_from_ft=50), 5, 10, (0, 2)),  # half is dug already: it may begin
        (replace(RULE, before_from_ft=50, after_from_ft=40), 5, 6, (1, 2)),  # 10 ft more are dug in 1 tick
        (replace(RULE, after_from_ft=90), 10, 1, (10, 1)),  # too near already: it waits until the dig is done
    ],
)
def test_lags_follow_from_the_paces_and_the_distance(
    rule: KeptBehind, dig: int, bed: int, expected: tuple[int, int]
) -> None:
    assert rule.lags(dig, bed) == expected


def two(dig: int, bed: int, apart: float, hours: Calendar = CREW, length: float = 100) -> Network:
    rule = KeptBehind("behind", "dig", "bed", length, apart)
    calendars = {c.id: c for c in (CREW, hours)}
    return job(task("dig", dig / 4), task("bed", bed / 4, hours.id), calendars=calendars, kept_behind=(rule,))


def kept_by_links(net: Network, dates: dict[str, Span]) -> bool:
    """Return whether dates keep the links of a network's distance, by their meaning in words."""
    for link in lower(net).links:
        since = dates["dig"][0] if link.type is LinkType.SS else dates["dig"][1]
        tick = dates["bed"][1] if link.type is LinkType.FF else dates["bed"][0]
        calendar = net.calendars[link.lag_calendar] if link.lag_calendar else None
        limit = calendar.advance(since, link.lag) if calendar else since + link.lag
        if limit is None or tick < limit:
            return False
    return True


def starts_kept(net: Network, first: int) -> tuple[set[int], set[int]]:
    """Return the starts of the bed that its links allow, and those at which the audit finds nothing."""
    by_links, by_audit = set(), set()
    for start in range(at(0, 8), at(2, 17)):
        calendar, work = net.calendar_of("bed"), net.by_id["bed"].work
        if calendar.window_at(start) is None or calendar.advance(start, work) is None:
            continue
        dates = {"dig": span_from(net, "dig", first), "bed": span_from(net, "bed", start)}
        if kept_by_links(net, dates):
            by_links.add(start)
        if not audit(net, Schedule(dates)):
            by_audit.add(start)
    return by_links, by_audit


def test_with_the_same_hours_links_and_audit_allow_the_same_starts() -> None:
    """In whole ticks, on every pair of paces and distances, over a noon and a night."""
    for dig, bed, apart in product((1, 3, 10, 21), (1, 4, 9, 30), (20.0, 33.0, 70.0, 100.0)):
        by_links, by_audit = starts_kept(two(dig, bed, apart), at(0, 15))
        assert by_links == by_audit, (dig, bed, apart)
        assert by_links


@pytest.mark.parametrize(("dig", "bed", "apart"), [(10, 10, 20), (21, 4, 33), (9, 30, 70), (40, 12, 25)])
def test_the_proved_finish_is_the_earliest_that_the_audit_allows(dig: int, bed: int, apart: float) -> None:
    """By trying every start of the dig and of the bed on the first three days."""
    net = two(dig, bed, apart)
    outcome = solve(net, Options(only_finish=True, workers=1))
    opened = [t for t in range(at(0, 8), at(1, 8)) if CREW.window_at(t)]
    best = min(span_from(net, "bed", min(starts_kept(net, first)[1]))[1] for first in opened)
    assert outcome.schedule is not None
    assert outcome.schedule.finish == outcome.finish_bound == best


def test_with_fewer_hours_no_start_that_the_links_allow_comes_too_near() -> None:
    rng = Random(3)
    for _ in range(40):
        windows = [(a, b) for day in range(4) for a, b in ((at(day, 8), at(day, 12)), (at(day, 13), at(day, 17)))]
        cut = tuple((a + rng.randrange(8), b - rng.randrange(8)) for a, b in windows if rng.random() < 0.8)
        net = two(rng.randint(1, 40), rng.randint(1, 40), rng.uniform(20, 90), Calendar("fewer", "fewer hours", cut))
        by_links, by_audit = starts_kept(net, at(0, 9))
        assert by_links <= by_audit


def test_with_hours_in_which_the_dig_does_not_get_on_it_is_waited_for() -> None:
    net = two(20, 20, 20, Calendar("late", "late hours", ((at(0, 8), at(0, 20)), (at(1, 8), at(1, 20)))))
    (link,) = lower(net).links
    assert (link.type, link.lag, link.family) == (LinkType.FS, 0, "kept_behind")
    by_links, by_audit = starts_kept(net, at(0, 15))
    assert by_links < by_audit, "an hour or two would be allowed by the distance alone"


def test_the_audit_says_how_near_it_comes_and_when() -> None:
    """By hand: 10 ft a tick each; the bed begins one tick after the dig, 10 ft behind it."""
    net = two(10, 10, 20)
    assert broken(net, dig=(at(0, 8), at(0, 10.5)), bed=(at(0, 8.25), at(0, 10.75))) == ["behind"]
    assert broken(net, dig=(at(0, 8), at(0, 10.5)), bed=(at(0, 8.5), at(0, 11))) == []
    dates = {"dig": (at(0, 8), at(0, 10.5)), "bed": (at(0, 8.25), at(0, 10.75))}
    (found,) = audit(net, Schedule(dates))
    assert '"task bed" comes too near to "task dig", which is still at work ahead of it' in found.text
    assert found.found == "10 ft behind, Mon 8 Mar 08:15"
    assert found.required == "at least 20 ft behind"
    assert found.severity is Severity.STOP


def test_one_that_is_quicker_and_catches_up_in_the_middle_is_found() -> None:
    """By hand: 20 ft behind at its start at 08:30, and level with the dig before that is done."""
    net = two(10, 5, 20)
    assert broken(net, dig=(at(0, 8), at(0, 10.5)), bed=(at(0, 8.5), at(0, 9.75))) == ["behind"]
    assert broken(net, dig=(at(0, 8), at(0, 10.5)), bed=(at(0, 9.5), at(0, 10.75))) == []


def split_alone(records: Records) -> None:
    """Members, without a distance behind the dig."""
    behind_the_dig(records)
    del records["limits"]["lay_behind_ft"]


def layers_apart(records: Records) -> None:
    """One pipe layer beds while the other lays."""
    behind_the_dig(records)
    needs = record(records, "trades", "gc")["work_needs"]
    record(records, "trades", "gc")["work_needs"] = [
        needs[0],
        {"work": ["bed", "lay", "shade"], "members": [{"skill": "pipe_layer"}]},
    ]


def test_bedding_follows_the_dig_and_what_comes_later_waits_for_both() -> None:
    net = network(behind_the_dig)
    assert [(k.before, k.after, k.length_ft, k.apart_ft) for k in net.kept_behind] == [
        ("R1/dig", "R1/bed", 100, 20),
        ("R2/dig", "R2/bed", 60, 20),
        ("R3/dig", "R3/bed", 40, 20),
    ]
    assert "nobody is within 20 ft of the machine while it digs" in net.kept_behind[0].because
    assert not any(k.id == "R1/dig > R1/bed" for k in net.links)
    assert waits(net, "R1/L0/lay-P1", "R1/dig")
    assert waits(net, "R1/lifts", "R1/dig")
    assert check_network(net) == []


def test_laying_follows_the_bedding_of_the_same_trade_and_the_dig() -> None:
    net = network(layers_apart)
    assert {(k.before, k.after) for k in net.kept_behind if k.after.startswith("R1")} == {
        ("R1/dig", "R1/bed"),
        ("R1/bed", "R1/L0/lay-W1"),
        ("R1/dig", "R1/L0/lay-W1"),
    }
    proved(net)


def test_without_a_distance_nothing_changes() -> None:
    def no_distance(r: Records) -> None:
        r["limits"]["lay_behind_ft"] = None

    assert network(no_distance) == network()
    assert network().kept_behind == ()


@pytest.mark.parametrize("change", [behind_the_dig, layers_apart])
def test_only_what_keeps_its_distance_shares_no_space_with_the_dig(change: object) -> None:
    net = network(change)  # type: ignore[arg-type]
    apart = {frozenset((k.before, k.after)) for k in net.kept_behind}
    together = {
        frozenset((a, b))
        for space in net.spaces
        for (a, one), (b, other) in product(space.occupants, repeat=2)
        if one != other
    }
    before = network(split_alone)
    for space in before.spaces:
        for (a, one), (b, other) in product(space.occupants, repeat=2):
            if one != other:
                assert frozenset((a, b)) in together | apart, (a, b)
    digs = {a.id for a in net.activities if a.kind is Kind.DIG}
    assert all(digs & pair for pair in apart if not pair <= together and not pair & {"R1/bed", "R2/bed", "R3/bed"})


def test_the_plan_is_shorter_with_members_and_shorter_still_behind_the_dig_and_audits_clean() -> None:
    """Proved finishes of the small site without others' dates: an hour is won by bedding behind the dig."""
    waiting, net = network(split_alone), network(behind_the_dig)
    later, sooner = proved(waiting), proved(net)
    assert later.finish - sooner.finish == 4
    assert any(sooner.dates[k.after][0] < sooner.dates[k.before][1] for k in net.kept_behind)
    found = people_in_the_swing_of_the_dig(net, sooner)
    assert found is not None
    assert found[1] in {f.rule for f in audit(net, found[0])}


def test_one_tick_too_early_is_found() -> None:
    net = network(behind_the_dig)
    schedule = proved(net)
    for rule in net.kept_behind:
        lag, _ = rule.lags(net.by_id[rule.before].work, net.by_id[rule.after].work)
        dig = span_from(net, rule.before, at_seven(net, schedule.dates[rule.before][0]))
        early = start_at(
            net, replace(schedule, dates={**schedule.dates, rule.before: dig}), {rule.after: dig[0] + lag - 1}
        )
        assert rule.id in {f.rule for f in audit(net, early)}


def at_seven(net: Network, tick: int) -> int:
    """Return the opening of the crew's hours on the day of a tick."""
    window = net.calendars["crew"].window_at(tick)
    assert window is not None
    return window[0]


def test_contingency_keeps_the_distance() -> None:
    net = with_contingency(network(behind_the_dig), 40)
    assert any(a.contingency for a in net.activities)
    proved(net)


def test_what_cannot_follow_the_dig_waits_as_before_and_is_told() -> None:
    def short(r: Records) -> None:
        behind_the_dig(r)
        r["limits"]["lay_behind_ft"] = 50
        record(r, "reaches", "R2")["groundwater"] = True

    net = network(short)
    assert {k.after for k in net.kept_behind} == {"R1/bed"}
    (note,) = [n for n in net.notes if n.finding.rule == "not-behind-the-dig"]
    assert "R2: shields or pumps are set first" in note.finding.text
    assert "R3: no longer than 50 ft" in note.finding.text
    assert note.reaches == ("R2", "R3")


def test_one_crew_that_does_both_cannot_follow_itself() -> None:
    def whole(r: Records) -> None:
        behind_the_dig(r)
        record(r, "trades", "gc").update(members=[], work_needs=[])

    net = network(whole)
    assert net.kept_behind == ()
    (note,) = [n.finding for n in net.notes if n.finding.rule == "not-behind-the-dig"]
    assert "Sample Ditching would be needed twice" in note.text
    assert "`members`" in note.remedy


def test_a_distance_within_the_swing_is_a_fault_at_its_line() -> None:
    text = damaged(("  open_trench_ft: 160\n", "  open_trench_ft: 160\n  lay_behind_ft: 15\n"))
    with pytest.raises(BadInput) as raised:
        read_site(text, file=FILE)
    (found,) = raised.value.findings
    line = next(n for n, row in enumerate(text.splitlines(), 1) if "lay_behind_ft" in row)
    assert (found.file, found.line, found.found) == (FILE, line, "15 ft")
    assert "within the machine's swing" in found.text
    assert found.required == "at least 20 ft (swing_ft)"


def test_work_in_progress_keeps_the_distance_from_where_it_has_got_to() -> None:
    """By hand: of 9 ticks of the dig of 100 ft 3 are left, so 66.7 ft are dug; the bed has not begun."""
    site = changed(behind_the_dig)
    net = network(behind_the_dig)
    start = net.clock.when(at_seven(net, proved(net).dates["R1/dig"][0]))
    as_of = net.clock.when(net.clock.tick(start) + 6)
    events: list[Event] = [Started(activity="R1/dig", when=start)]
    known = facts_at(site, net, fold(entries((as_of, e) for e in events)), as_of)
    assert known.begun["R1/dig"].remaining == 3
    left = standing(known, ())
    (rule,) = [k for k in left.kept_behind if k.after == "R1/bed"]
    assert rule.before_from_ft == pytest.approx(100 * 6 / 9)
    assert rule.lags(3, 3) == (1, 0)  # 3 - 3 x 0.8 = 0.6
    assert "R1/dig" not in {k.after for k in left.kept_behind}


def test_bedding_that_has_begun_shows_that_the_dig_was_begun_and_not_that_it_is_done() -> None:
    site, net = changed(behind_the_dig), network(behind_the_dig)
    start = net.clock.when(at_seven(net, proved(net).dates["R1/dig"][0]))
    later = net.clock.when(net.clock.tick(start) + 7)
    events: list[Event] = [Started(activity="R1/dig", when=start), Started(activity="R1/bed", when=later)]
    known = facts_at(site, net, fold(entries((later, e) for e in events)), later)
    assert {"R1/dig", "R1/bed"} == known.begun.keys()
    assert "R1/dig" not in known.done
