"""Checks any dated schedule against every rule of a network, by each rule's stated meaning.

Works in clock ticks and shares nothing with whatever made the schedule. The network is taken
to be whole: whether its own references hold is not this package's question.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scheduler.audit import activity_checks, behind_checks, order_checks, sharing_checks, visit_checks
from scheduler.audit.audit_facts import AuditCheck, AuditFacts
from scheduler.findings import Finding
from scheduler.network.model import Network
from scheduler.schedule import Schedule

CHECKS: Mapping[str, tuple[AuditCheck, ...]] = {
    **activity_checks.CHECKS,
    **order_checks.CHECKS,
    **behind_checks.CHECKS,
    **sharing_checks.CHECKS,
    **visit_checks.CHECKS,
}
"""By field of the network, what looks at its rules."""


def audit(network: Network, schedule: Schedule) -> list[Finding]:
    """Return every rule of the network that the schedule breaks; an empty list means none.

    `rule` of each finding is the id of the rule broken; rules that every activity carries are
    named `missing/ID`, `unknown/ID`, `work/ID`, `calendar/ID`, `one window/ID`, `least start/ID`, `data date/ID`
    and `horizon/ID`. Whatever the schedule holds, it is reported, never raised.
    """
    return list(_findings(network, schedule))


def keeps(network: Network, schedule: Schedule) -> bool:
    """Return whether a schedule audits clean; looking ends at the first rule that it breaks."""
    return next(_findings(network, schedule), None) is None


def _findings(network: Network, schedule: Schedule) -> Iterator[Finding]:
    facts = AuditFacts.of(network, schedule)
    return (finding for checks in CHECKS.values() for check in checks for finding in check(facts))
