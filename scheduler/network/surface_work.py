"""The surface of one piece put back: at once or in two steps, after the laboratory's result, and cured."""

from __future__ import annotations

from scheduler.network.kind import Kind
from scheduler.network.model import Opening
from scheduler.network.network_draft import SITE_FILE, TRADE_ORDER
from scheduler.network.reach_work import PAVED, Here
from scheduler.network.setting import PieceWork
from scheduler.network.site_steps import PART_OF, asked, sourced
from scheduler.units import format_area

ON_FILL = "The surface goes back onto finished lifts."


def put_back(here: Here, work: PieceWork, after: str) -> None:
    """Make the surface of a piece; `after` is the finished fill, or the test of it."""
    setting, rates = here.setting, here.setting.site.rates
    area = here.of_piece(work.piece).surface_sf
    twice = here.reach.surface == "asphalt" and asked(setting, "temporary_paving")
    per_hour = setting.site.backfill.restore_sf_per_hour
    work.restored = here.draft.add(
        f"{work.piece.id}/restore",
        f"Put back {'temporary' if twice else 'the'} {here.reach.surface}, {setting.where(work.piece)}",
        Kind.RESTORE,
        area / (rates.temporary_paving_sf_per_hour if twice else per_hour),
        setting.crew(setting.site.general_trade.id, here.reach),
        because=f"{format_area(area)} of {here.reach.surface} to put back.",
        source=sourced(setting, "temporary_paving_sf_per_hour")
        if twice
        else f"{SITE_FILE}: backfill, restore_sf_per_hour",
        place=work.piece.place,
    )
    waits = work.compaction and here.reach.surface in PAVED and asked(setting, "density_result")
    here.draft.link(
        after,
        work.restored,
        lag=setting.clock.ticks(hours=rates.density_result_hours) if waits else 0,
        because="Paving waits for the laboratory's result of the compaction test." if waits else ON_FILL,
        source=sourced(setting, "density_result_hours") if waits else TRADE_ORDER,
    )
    if here.reach.surface in PAVED:
        ends = (work.covered, work.restored)
        here.draft.unpaved.append(Opening(f"{work.piece.id}/unpaved", here.reach.id, work.piece.length_ft, *ends))
    if twice:
        _pave(here, work, area)
    if here.reach.surface == "concrete" and asked(setting, "concrete_cure"):
        _cure(here, work)


def _pave(here: Here, work: PieceWork, area: float) -> None:
    setting, days = here.setting, here.setting.site.rates.temporary_paving_days
    work.paved = here.draft.add(
        f"{work.piece.id}/pave",
        f"Final paving, {setting.where(work.piece)}",
        Kind.RESTORE,
        area / setting.site.backfill.restore_sf_per_hour,
        setting.crew(setting.site.general_trade.id, here.reach),
        because=f"{format_area(area)} of temporary paving are cut out and paved to stay.",
        source=f"{SITE_FILE}: backfill, restore_sf_per_hour",
        place=work.piece.place,
    )
    here.draft.link(
        work.restored,
        work.paved,
        lag=setting.clock.ticks(hours=24 * days),
        because=f"Temporary paving lies for {days:g} days, so that the fill settles before final paving.",
        source=sourced(setting, "temporary_paving_days"),
    )


def _cure(here: Here, work: PieceWork) -> None:
    setting, hours = here.setting, here.setting.site.rates.concrete_cure_hours
    work.cured = here.draft.milestone(
        f"{work.piece.id}/cured",
        f"Concrete cured, {setting.where(work.piece)}",
        here.draft.activities[work.restored].calendar,
        place=work.piece.place,
        because="Nobody drives on concrete before it has its strength.",
        source=PART_OF,
    )
    here.draft.link(
        work.restored,
        work.cured,
        lag=setting.clock.ticks(hours=hours),
        because=f"Concrete cures for {hours:g} h before anybody drives on it.",
        source=sourced(setting, "concrete_cure_hours"),
    )
