"""The work that covers one piece: warning ribbon, lifts, compaction test, surface back."""

from __future__ import annotations

from scheduler.network import work_hours
from scheduler.network.kind import Kind
from scheduler.network.network_draft import SITE_FILE
from scheduler.network.pieces import Piece
from scheduler.network.reach_work import Here
from scheduler.network.setting import MACHINE, PieceWork
from scheduler.network.surface_work import put_back
from scheduler.trench.section_records import Quantities
from scheduler.units import format_depth, format_inches, format_length, format_volume

LEAST_FILL_CY = 0.05


def build_cover(here: Here, work: PieceWork, top: int | None, after: str) -> None:
    """Make everything above the highest layer `top` of a piece (None: it holds no line).

    `after` is what must be finished first.
    """
    piece, amounts = work.piece, here.of_piece(work.piece)
    volume, lifts, shaded_to_in = _above(here, amounts, top)
    below = _share_below_ribbon(here, shaded_to_in)
    last = after
    if here.section.ribbons_in and top is not None:
        last = _ribbon(here, piece, volume=volume * below, lifts=lifts * below)
        here.draft.link(after, last, because="Ribbon goes over the shaded lines, at its depth below grade.")
        work.after_shade[top] = last
        volume, lifts = volume * (1 - below), lifts * (1 - below)
    work.covered = _lifts(here, piece, volume, lifts)
    here.draft.link(
        last, work.covered, because="Lifts follow the ribbon." if last != after else "Lifts follow the shading."
    )
    if top is not None:
        work.after_shade.setdefault(top, work.covered)
    last = work.covered
    if here.setting.site.backfill.compaction_test:
        work.compaction = last = _compaction(here, piece)
        here.draft.link(work.covered, last, because="Compaction is tested on the finished lifts.")
    if here.reach.surface != "bare":
        put_back(here, work, last)


def _above(here: Here, amounts: Quantities, top: int | None) -> tuple[float, float, float]:
    """Return cubic yards and lifts above the highest layer of a piece, and the depth they start at [in].

    Where the lines of higher layers end short of the piece, their shading is plain fill.
    """
    k = top if top is not None else 0
    volume = sum(amounts.fill_above_cy[k:]) + sum(amounts.shading_cy[k + 1 :])
    lifts = float(sum(amounts.lifts_above[k:]))
    if top is None:
        return amounts.bank_cy, lifts, here.section.depth_in
    return volume, lifts, here.section.layers[k].shaded_to_in


def _share_below_ribbon(here: Here, shaded_to_in: float) -> float:
    """Return the share of the fill above the shading that lies below the ribbon."""
    if not here.section.ribbons_in or shaded_to_in <= 0:
        return 0.0
    return max(0.0, shaded_to_in - min(here.section.ribbons_in)) / shaded_to_in


def _ribbon(here: Here, piece: Piece, *, volume: float, lifts: float) -> str:
    setting = here.setting
    feet = here.of_piece(piece).ribbon_ft
    hours = feet / setting.site.rates.ribbon_ft_per_hour
    depths = [format_depth(d) for d in here.section.ribbons_in]
    what = "warning ribbon" if len(depths) == 1 else f"{len(depths)} warning ribbons"
    at = depths[0] if len(depths) == 1 else f"{', '.join(depths[:-1])} and {depths[-1]}"
    filling = volume > LEAST_FILL_CY
    if filling:
        hours += _hours(here, piece, volume, lifts)
        doing = setting.with_machines(here.reach, "excavator", "compactor", crew=True, group=MACHINE)
    else:
        doing = setting.crew(setting.site.general_trade.id, here.reach)
    return here.draft.add(
        f"{piece.id}/ribbon",
        f"{'Fill to ribbon depth and lay' if filling else 'Lay'} {what}, {setting.where(piece)}",
        Kind.RIBBON,
        hours,
        doing,
        because=f"{format_length(feet)} of warning ribbon, at {at} below grade, warns the next digger.",
        source=f"{SITE_FILE}: backfill, ribbon_below_grade_in; rate {setting.site.rates.cited('ribbon_ft_per_hour')}",
        place=piece.place,
    )


def _lifts(here: Here, piece: Piece, volume: float, lifts: float) -> str:
    setting = here.setting
    return here.draft.add(
        f"{piece.id}/lifts",
        f"Fill in lifts to grade, {setting.where(piece)}",
        Kind.FILL,
        _hours(here, piece, volume, lifts),
        setting.with_machines(here.reach, "excavator", "compactor", crew=True, group=MACHINE),
        because=f"{format_volume(volume)} of fill in lifts of at most "
        f"{format_inches(setting.site.backfill.lift_in)}, each compacted.",
        source=f"{SITE_FILE}: backfill",
        place=piece.place,
    )


def _hours(here: Here, piece: Piece, volume: float, lifts: float) -> float:
    return work_hours.fill_hours(
        fill_cy=volume,
        lifts=lifts,
        length_ft=piece.length_ft,
        dig_cy_per_hour=here.dig_rate(),
        backfill=here.setting.site.backfill,
    )


def _compaction(here: Here, piece: Piece) -> str:
    setting = here.setting
    return here.draft.add(
        f"{piece.id}/compaction",
        f"Test compaction, {setting.where(piece)}",
        Kind.COMPACTION_TEST,
        setting.site.backfill.compaction_test_hours,
        setting.crew(setting.site.general_trade.id, here.reach),
        because="The fill is shown to be dense enough before anything stands on it.",
        source=f"{SITE_FILE}: backfill, compaction_test",
        place=piece.place,
        one_window=True,
    )
