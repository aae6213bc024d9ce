"""Ends of lines that stay out of a cover that is allowed: the joint there is made and checked later."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.ledger.covering import CoverGround, overlaps
from scheduler.ledger.known import KnownJob
from scheduler.network.kind import Kind
from scheduler.network.line_tests import is_joint_check
from scheduler.network.model import Activity

END_FT = 1.0
"""How near the end of a cover comes to a joint before the joint is spoken of."""


def left_open(known: KnownJob, ground: CoverGround) -> Iterator[str]:
    """Yield, for each joint with what lies there that is neither made nor waited for, what to leave out of the cover.

    The side of a joint that is laid second waits for it; the first is covered before, save the end of its line.
    """
    network, actuals = known.network, known.state.actuals
    for joint in (a for a in network.activities if is_joint_check(a)):
        actual = actuals.get(joint.id)
        if (actual is not None and actual.finish is not None) or _waits(known, joint, ground):
            continue
        before = [network.by_id[k.before] for k in network.links if k.after == joint.id]
        if any(lay.kind is Kind.LAY and _covers_end(lay, joint, ground) for lay in before):
            yield f'Leave the end of the line there uncovered until this is on record: "{joint.name}".'


def _waits(known: KnownJob, joint: Activity, ground: CoverGround) -> bool:
    gates = (known.network.by_id[k.after] for k in known.network.links if k.before == joint.id)
    return any(ground.hidden_by(gate) for gate in gates)


def _covers_end(lay: Activity, joint: Activity, ground: CoverGround) -> bool:
    """Tell whether the ground holds the end of what was laid that meets the joint."""
    if not overlaps(lay, ground.alignment, ground.from_ft, ground.to_ft) or lay.reach == joint.reach:
        return False
    if ground.layer is not None and lay.layer is not None and lay.layer > ground.layer:
        return False
    if lay.alignment != joint.alignment:
        return True  # it goes round a corner: which of its ends meets the joint is not in the network
    end = lay.to_ft if lay.to_ft <= joint.to_ft and lay.from_ft < joint.from_ft else lay.from_ft
    return ground.from_ft - END_FT <= end <= ground.to_ft + END_FT
