"""Learning in the network: work of one kind takes less from reach to reach along an alignment."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, log2

from scheduler.findings import Finding, Severity
from scheduler.network.kind import Kind
from scheduler.network.model import Activity, Note
from scheduler.network.network_draft import SITE_FILE, NetworkDraft
from scheduler.network.setting import Setting

LEARNT = (
    Kind.SURFACE_CUT,
    Kind.POTHOLE,
    Kind.DIG,
    Kind.PROTECT,
    Kind.BED,
    Kind.LAY,
    Kind.SET,
    Kind.JOIN,
    Kind.SHADE,
    Kind.RIBBON,
    Kind.FILL,
    Kind.RESTORE,
)
"""Kinds of work that go quicker with practice, where the site file names none."""
SOURCE = "learning curve by unit: T. P. Wright (1936), J. R. Crawford (1944)"


def share_of_first(n: int, rate: float) -> float:
    """Return the time of the n-th unit as a share of that of the first, by a learning rate (0 to 1).

    T_n = T_1 n^log2(rate): each time n doubles, the time of a unit falls to `rate` of what it was.
    Source: T. P. Wright, Factors Affecting the Cost of Airplanes, Journal of the Aeronautical Sciences 3(4), 1936, who
    says it of the mean of all units so far; J. R. Crawford, Learning Curve, Ship Curve, Ratios, Related Data, 1944, of
    each unit, as here.
    """
    return float(n ** log2(rate))


def build_learning(setting: Setting, draft: NetworkDraft) -> None:
    """Shorten the work of each trade and kind from reach to reach along each alignment, as the site file asks."""
    learning = setting.site.learning
    if learning.rate is None:
        return
    kinds = {Kind(k) for k in learning.kinds} or set(LEARNT)
    alike: dict[tuple[str, str, Kind], dict[str, list[Activity]]] = {}
    for activity in draft.activities.values():
        if activity.reach and activity.kind in kinds:
            by_reach = alike.setdefault((activity.alignment, activity.trade, activity.kind), {})
            by_reach.setdefault(activity.reach, []).append(activity)
    for by_reach in alike.values():
        along = sorted(by_reach, key=lambda reach: setting.ground.reaches[reach].from_)
        for n, reach in enumerate(along[1:], 2):
            share = max(learning.least_share, share_of_first(n, learning.rate))
            for activity in (a for a in by_reach[reach] if a.id not in draft.overrides):
                work = max(1, ceil(round(draft.ticks[activity.id] * share, 6)))
                draft.activities[activity.id] = _quicker(setting, replace(activity, work=work), n, share)
    if not any(len(by_reach) > 1 for by_reach in alike.values()):
        draft.notes.append(_idle())


def _quicker(setting: Setting, activity: Activity, n: int, share: float) -> Activity:
    """Return work that is quicker by practice, with a sentence and a source that say so."""
    where = setting.alignment_names[activity.alignment]
    said = f"Learning: number {n} of such stretches along {where}, {share:.0%} of the time of a first one."
    return replace(
        activity,
        because=f"{activity.because} {said}".strip(),
        source=f"{activity.source}; {SITE_FILE}: learning; {SOURCE}",
    )


def _idle() -> Note:
    return Note(
        Finding(
            "learning-idle",
            Severity.NOTE,
            "Learning",
            "No work goes quicker: no trade does work of a kind that is named in two reaches of one alignment.",
            source=f"{SITE_FILE}: learning",
            remedy="Fix its `kinds`, or remove it.",
        )
    )
