"""What comes after a look: rain until the last gate is covered, and outside work that is begun again."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

import scheduler
from scheduler import bundled_sites
from scheduler.ledger.events import Event, Finished, HoldReleased, InspectionPassed, Started
from scheduler.ledger.ground_events import Rained
from scheduler.ledger.hold_standing import HoldStatus
from scheduler.ledger.holds import hold_point
from scheduler.ledger.rights import releasers
from scheduler.ledger.seen import work_place
from scheduler.ledger.state import fold
from tests.records import Record


def test_rain_counts_until_the_last_of_several_gates_is_covered() -> None:
    case = scheduler.load(bundled_sites()["lantern-street"])
    network = case.network
    hold = next(h for h in network.holds if h.id == "hold/bottom-look/east-end")
    gates = [network.by_id[g] for g in hold.gates]
    start = network.clock.when(network.data_date)
    inspector = releasers(case.site, network, hold)[0]

    def after(days: float) -> datetime:
        return start + timedelta(days=days)

    def wet(first: int, rained: float) -> HoldStatus:
        """Return how it stands when some of the gates were done on day 2, and it rained."""
        record = Record(case.site, network)
        looking = record.looking
        seen = looking.seen(hold, "named")
        record.add(InspectionPassed(looks=(hold.look,), inspector=inspector.id, when=after(1), seen=seen), after(1))
        given = {"hold": hold.id, "person": inspector.id, "role": str(inspector.role), "evidence": "Seen."}
        record.add(HoldReleased(**given, when=after(1.1), rests_on=(1,), seen=seen), after(1.1))
        for gate in gates[:first]:
            record.add(Finished(activity=gate.id, work=work_place(gate), when=after(2)), after(2))
        record.add(Rained(start=after(rained), until=after(rained + 0.1), inches=3), after(rained + 0.1))
        state = fold(record.entries)
        return hold_point(case.site, network, state, hold, after(9)).status

    assert wet(len(gates), 3) is HoldStatus.RELEASED
    assert wet(len(gates), 1.5) is HoldStatus.DOUBTFUL
    assert wet(len(gates) - 1, 3) is HoldStatus.DOUBTFUL
    assert wet(0, 3) is HoldStatus.DOUBTFUL


@pytest.mark.parametrize(
    ("again", "status"),
    [(None, HoldStatus.RELEASED), (2.0, HoldStatus.RELEASED), (2.001, HoldStatus.DOUBTFUL), (4.0, HoldStatus.DOUBTFUL)],
)
def test_outside_work_begun_again_after_it_was_finished_is_not_let_go(again: float | None, status: HoldStatus) -> None:
    """Finished on day 2 and released on day 3; a beginning at the same moment as the end is no later one."""
    case = scheduler.load(bundled_sites()["orchard-lane"])
    network = case.network
    record = Record(case.site, network)
    hold = next(h for h in network.holds if h.look not in record.looking.inspections)
    work, person = network.by_id[hold.look], releasers(case.site, network, hold)[0]
    start = network.clock.when(network.data_date)
    given = {"hold": hold.id, "person": person.id, "role": str(person.role), "evidence": "Seen."}
    happened: list[tuple[float, Event]] = [
        (2, Finished(activity=work.id, work=work_place(work), when=start + timedelta(days=2))),
        (3, HoldReleased(**given, seen=record.looking.seen(hold, "named"), when=start + timedelta(days=3))),
    ]
    if again is not None:
        when = start + timedelta(days=again)
        happened.append((max(again, 3), Started(activity=work.id, work=work_place(work), when=when)))
    for day, event in happened:
        record.add(event, start + timedelta(days=day))
    assert hold_point(case.site, network, fold(record.entries), hold, start + timedelta(days=9)).status is status
