"""Passes grown old: where a stretch kept open for others is covered later than a pass is good for elsewhere."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scheduler.findings import Finding, Severity
from scheduler.network.model import Activity, Network
from scheduler.plan import OF_THE_DATES
from scheduler.schedule import Span
from scheduler.site.people import Inspection
from scheduler.site.site_record import Site
from scheduler.spoken import length, moment
from scheduler.units import format_station


def old_passes(site: Site, network: Network, dates: Mapping[str, Span]) -> Iterator[Finding]:
    """Give each pass that is older than it is good for when a stretch kept open for others is covered."""
    bound = {(k.before, k.after) for k in network.links if k.at_most}
    for inspection in site.inspections:
        if inspection.pass_valid_days is None or not inspection.pass_stands_while_kept_open:
            continue
        good = int(inspection.pass_valid_days * 24 * 60 // network.clock.tick_minutes)
        for hold in (h for h in network.holds if h.id.startswith(f"hold/{inspection.id}/")):
            for gate in hold.gates:
                activity = network.by_id[gate]
                if not activity.kind.buries or (hold.look, gate) in bound or activity.happened:
                    continue
                if hold.look not in dates or gate not in dates:
                    continue
                seen, covered = dates[hold.look][1], dates[gate][0]
                if covered - seen > good:
                    yield _old_pass(network, inspection, activity, seen, covered)


def _old_pass(network: Network, inspection: Inspection, gate: Activity, seen: int, covered: int) -> Finding:
    clock, days = network.clock, f"{inspection.pass_valid_days:g} days"
    where = f"{gate.reach}, {format_station(gate.from_ft)} to {format_station(gate.to_ft)}"
    return Finding(
        f"{OF_THE_DATES}old-pass",
        Severity.NOTE,
        where,
        f'The pass of "{inspection.name}", planned for {moment(clock.when(seen))}, is older than {days} when this '
        f"stretch, kept open for others, is covered {moment(clock.when(covered))}: ask {inspection.authority} whether "
        "it still stands.",
        found=f"covered {length((covered - seen) * clock.tick_minutes)} after the pass",
        required=f"within {days} elsewhere",
        source="site file: inspections, pass_stands_while_kept_open",
        remedy="Ask for a second look before it is covered, or write `pass_stands_while_kept_open: false`.",
    )
