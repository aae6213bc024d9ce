"""When trench may not stand open: weeks in which nobody is there to fill it, and nights in a way that others use."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.network.network_draft import SITE_FILE, NetworkDraft
from scheduler.network.open_records import KeptShut
from scheduler.network.setting import Made, PieceWork, Setting
from scheduler.site.ground import Reach


def build_kept_shut(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Let no stretch be dug that cannot be filled before weeks without work, or before its way must be passable."""
    for reach in setting.site.reaches:
        for work in made.reaches[reach.id].pieces:
            draft.kept_shut.extend(_closed_weeks(setting, draft, made, work))
            draft.kept_shut.extend(_way(setting, made, reach, work))


def _closed_weeks(setting: Setting, draft: NetworkDraft, made: Made, work: PieceWork) -> Iterator[KeptShut]:
    days = setting.site.limits.closed_days_open
    closed = setting.hours.closed_for(draft.activities[work.covered].calendar, days)
    if closed is not None:
        yield KeptShut(
            f"closed-weeks/{work.piece.id}",
            "closed weeks",
            made.reaches[work.piece.reach].digs[-1],
            work.covered,
            closed,
            begins_cover(work),
            because="Trench does not stand open while nobody may work there for more than "
            f"{days:g} days on end: it is filled before, or dug after.",
            source=f"{SITE_FILE}: limits, closed_days_open",
        )


def _way(setting: Setting, made: Made, reach: Reach, work: PieceWork) -> Iterator[KeptShut]:
    if reach.access is not None and reach.access.at_night == "filled":
        yield KeptShut(
            f"way/{work.piece.id}",
            "way",
            made.reaches[reach.id].digs[-1],
            work.covered,
            setting.hours.way_in_use(reach.access.closed_only),
            because=f"{reach.access.what} is passable outside {reach.access.closed_only}: what is dug in it is filled "
            "the same day.",
            source=f"{SITE_FILE}: reaches, access, at_night",
        )


def begins_cover(work: PieceWork) -> str:
    """Return what comes just before the last lifts over a piece; '' where it holds no line."""
    if not work.shades:
        return ""
    top = max(work.shades)
    return work.shades[top] if work.after_shade[top] == work.covered else work.after_shade[top]
