"""What must hold between the records of a site."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.site.date_faults import date_faults, place_faults
from scheduler.site.faults import Fault, short
from scheduler.site.ground import Reach
from scheduler.site.job_id import PRACTICE
from scheduler.site.member_faults import member_faults
from scheduler.site.own_work import STAGES, OwnWork, Stage
from scheduler.site.seasons import season_faults
from scheduler.site.site_record import Site
from scheduler.site.size_faults import size_faults
from scheduler.site.station_faults import open_trench_faults, route_faults, station_faults, trench_faults
from scheduler.units import format_feet


def record_faults(site: Site, *, incomplete: frozenset[str] = frozenset()) -> list[Fault]:
    """Return the faults of a site beside those of its names.

    `incomplete` holds the sections of which some part could not be read, so that what is
    missing there is not told as a second fault.
    """
    faults = [*size_faults(site)]
    if faults:
        return faults  # everything else would look at every pair of them
    faults = [*_sheets(site), *station_faults(site), *trench_faults(site, incomplete=incomplete)]
    faults.extend(open_trench_faults(site, incomplete=incomplete))
    faults.extend(_own_work(site))
    if "limits" not in incomplete:
        faults.extend(_behind(site))
    faults.extend(season_faults(site.seasons))
    faults.extend(member_faults(site))
    if "alignments" not in incomplete:
        faults.extend(route_faults(site))
    if not incomplete & {"site", "trades"}:
        faults.extend(_general_trade(site))
    if "site" not in incomplete:
        faults.extend(_practice(site))
        faults.extend(_damages(site))
        unknown = list(place_faults(site.site))
        faults.extend(unknown or date_faults(site))
    return faults


def _general_trade(site: Site) -> Iterator[Fault]:
    if site.site.general_trade is None and not any(trade.own for trade in site.trades):
        text = "Nobody digs and fills: mark a trade 'own: true', or name it as general_trade."
        yield Fault("site.reference", ("site", "general_trade"), text)


def _damages(site: Site) -> Iterator[Fault]:
    if site.site.damages_per_day and site.site.target_finish is None:
        text = "Damages are due for each day after the target, and no target is given."
        yield Fault("site.missing", ("site", "damages_per_day"), text, required="a target_finish beside it")


def _behind(site: Site) -> Iterator[Fault]:
    limits = site.limits
    if limits.lay_behind_ft is not None and limits.lay_behind_ft < limits.swing_ft:
        text = "People who follow the dig at this distance would stand within the machine's swing."
        found, required = format_feet(limits.lay_behind_ft), f"at least {format_feet(limits.swing_ft)} (swing_ft)"
        yield Fault("site.value", ("limits", "lay_behind_ft"), text, found=found, required=required)


def _own_work(site: Site) -> Iterator[Fault]:
    """A step of own work stands between two stages in their order, has one length, and somebody who does it."""
    for i, step in enumerate(site.own_work):
        at = ("own_work", i)
        if step.after and step.before and STAGES.index(step.before) <= STAGES.index(step.after):
            text = "The stage that waits for it comes before the one that it follows."
            required = f"a stage after '{step.after}'" if step.after != STAGES[-1] else "nothing: no stage follows"
            yield Fault("site.order", (*at, "before"), text, found=f"'{step.before}'", required=required)
        if (step.hours is None) == (step.feet_per_hour is None):
            text = "How long it takes is not given." if step.hours is None else "How long it takes is given twice."
            where = (*at, "hours") if step.hours is not None else at
            yield Fault("site.value", where, text, required="hours or feet_per_hour")
        if step.by and step.trade:
            yield Fault("site.value", (*at, "by"), "It is done by a trade or by somebody from outside, not by both.")
        if step.by and step.calendar is None:
            text = "Somebody from outside does it, and their hours are not given."
            yield Fault("site.missing", at, text, required="calendar")
        if step.before and not any(_comes(site, step.before, r) for r in site.reaches if _done_in(step, r)):
            text = "Nothing ever waits for it: neither this stage nor a later one comes in any of its reaches."
            yield Fault("site.order", (*at, "before"), text, found=f"'{step.before}'", required=_to_have(step.before))
        for field in ("released_by", "gate"):
            if getattr(step, field) and step.before is None:
                said = "the release" if field == "released_by" else "it"
                text = f"`{field}` needs `before`: name the stage that waits for {said}."
                yield Fault("site.missing", (*at, field), text, required="before")


def _done_in(step: OwnWork, reach: Reach) -> bool:
    return not step.reaches or reach.id in step.reaches


def _comes(site: Site, stage: Stage, reach: Reach) -> bool:
    """Tell whether a reach has a stage, or one after it."""
    at = STAGES.index(stage)
    looks = [i for i in site.inspections if i.stage == "final"]
    return (
        at < STAGES.index("compaction")
        or (stage == "compaction" and site.backfill.compaction_test)
        or (stage != "final" and reach.surface != "bare")
        or any(not i.alignments or reach.alignment in i.alignments for i in looks)
    )


def _to_have(stage: Stage) -> str:
    """Return what would give the job a stage, or one after it."""
    ways = ("backfill.compaction_test", "a surface that is put back", "an inspection of stage 'final'")
    return " or ".join(ways[("compaction", "restore", "final").index(stage) :])


def _practice(site: Site) -> Iterator[Fault]:
    """An invented job that became a real one gets a record of its own."""
    given = site.site.job_id
    if given and given.startswith(PRACTICE) and not site.site.invented:
        text = "This id belongs to an invented job. Remove it; a real job gets one of its own."
        yield Fault("site.job-id", ("site", "job_id"), text, found=f"'{short(given)}'")


def _sheets(site: Site) -> Iterator[Fault]:
    """Rule sheets are named by file name alone, so that a site file cannot reach elsewhere."""
    for i, name in enumerate(site.rule_sheets):
        if not name or name.startswith(".") or set(name) & set("/\\:\0"):
            text = "Give the file name alone, without folders."
            yield Fault(
                "site.sheet", ("rule_sheets", i), text, found=f"'{short(name)}'", required="such as our-town.yaml"
            )
