"""When trench may not stand open: weeks in which nobody is there to fill it."""

from __future__ import annotations

from scheduler.network.model import KeptShut
from scheduler.network.network_draft import SITE_FILE, NetworkDraft
from scheduler.network.setting import Made, PieceWork, Setting


def build_kept_shut(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Let no stretch be dug that cannot be filled before its hours are closed for longer than the site allows."""
    days = setting.site.limits.closed_days_open
    for reach in setting.site.reaches:
        dig = made.reaches[reach.id].digs[-1]
        for work in made.reaches[reach.id].pieces:
            closed = setting.hours.closed_for(draft.activities[work.covered].calendar, days)
            if closed is not None:
                draft.kept_shut.append(
                    KeptShut(
                        f"closed-weeks/{work.piece.id}",
                        dig,
                        work.covered,
                        closed,
                        _begins_cover(work),
                        because="Trench does not stand open while nobody may work there for more than "
                        f"{days:g} days on end: it is filled before, or dug after.",
                        source=f"{SITE_FILE}: limits, closed_days_open",
                    )
                )


def _begins_cover(work: PieceWork) -> str:
    """Return what comes just before the last lifts over a piece; '' where it holds no line."""
    if not work.shades:
        return ""
    top = max(work.shades)
    return work.shades[top] if work.after_shade[top] == work.covered else work.after_shade[top]
