"""Seasons in the network: work keeps out of days on which it is not done, and trench does not stand open in them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from scheduler.findings import Finding, Severity
from scheduler.network.kept_shut import begins_cover
from scheduler.network.kind import Kind
from scheduler.network.model import Note
from scheduler.network.network_draft import SITE_FILE, NetworkDraft
from scheduler.network.open_records import KeptShut
from scheduler.network.reach_work import PAVED
from scheduler.network.setting import Made, Setting
from scheduler.site.seasons import Season, Stopped
from scheduler.worktime.calendar import Window

STOPPED: Mapping[Stopped, tuple[Kind, ...]] = {
    "surface_cut": (Kind.SURFACE_CUT,),
    "expose": (Kind.POTHOLE,),
    "dig": (Kind.DIG,),
    "lay": (Kind.BED, Kind.LAY, Kind.SET, Kind.JOIN),
    "test": (Kind.TEST,),
    "shade": (Kind.SHADE,),
    "fill": (Kind.RIBBON, Kind.FILL),
    "restore": (Kind.RESTORE,),
    "pave": (Kind.RESTORE,),
}
"""The kinds of work that a season stops."""


def build_seasons(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Take the days of each season out of the hours of the work it stops, and shut trench that may not stand open."""
    for season in setting.site.seasons:
        times = _times(setting, season)
        reaches = [r for r in setting.site.reaches if season.holds_in(r)]
        work = [a for r in reaches for a in _stopped(setting, draft, made, season, r.id)]
        shut = list(_shut(setting, made, season, [r.id for r in reaches], times)) if times else []
        if not times or not (work or shut):
            draft.notes.append(_idle(season, dated=bool(times)))
        for id_ in work if times else ():
            calendar = setting.hours.kept_out(draft.activities[id_].calendar, season.id, season.said, times)
            draft.activities[id_] = replace(draft.activities[id_], calendar=calendar)
        draft.kept_shut.extend(shut)


def _times(setting: Setting, season: Season) -> tuple[Window, ...]:
    clock = setting.clock
    first, last = clock.when(0).date(), clock.when(setting.horizon).date()
    return tuple((max(clock.midnight(a), 0), setting.hours.end_of_day(b)) for a, b in season.spans(first, last))


def _stopped(setting: Setting, draft: NetworkDraft, made: Made, season: Season, reach: str) -> Iterator[str]:
    """Yield the work in a reach that a season stops."""
    kinds = {kind for stop in season.stops if stop in STOPPED for kind in STOPPED[stop]}
    kept: set[str] = set()
    if "restore" not in season.stops and setting.ground.reaches[reach].surface in PAVED:
        kept = {p.restored for p in made.reaches[reach].pieces if p.paved}
    elif "restore" not in season.stops:
        kinds.discard(Kind.RESTORE)
    for activity in draft.activities.values():
        here = reach == activity.reach or reach in draft.also_in.get(activity.id, ())
        if here and activity.kind in kinds and activity.id not in kept:
            yield activity.id


def _shut(
    setting: Setting, made: Made, season: Season, reaches: list[str], times: tuple[Window, ...]
) -> Iterator[KeptShut]:
    if "open_trench" not in season.stops:
        return
    calendar = setting.hours.times(f"season {season.id}", season.said, times)
    for reach in reaches:
        for work in made.reaches[reach].pieces:
            yield KeptShut(
                f"season/{season.id}/{work.piece.id}",
                "season",
                made.reaches[reach].digs[-1],
                work.covered,
                calendar,
                begins_cover(work),
                because=f"No trench stands open here in these days: {season.said}. It is filled before, or dug after.",
                source=season.source or f"{SITE_FILE}: seasons",
            )


def _idle(season: Season, *, dated: bool) -> Note:
    text = (
        "holds nowhere: no work that it stops is in a reach that it names."
        if dated
        else ("holds on no day of this job: its days lie before the first day or past the last day laid out.")
    )
    return Note(
        Finding(
            "season-idle",
            Severity.NOTE,
            f"Season '{season.id}'",
            f"{season.said}: it {text}",
            source=season.source or f"{SITE_FILE}: seasons",
            remedy="Fix its dates, `stops` and places, or remove it.",
        )
    )
