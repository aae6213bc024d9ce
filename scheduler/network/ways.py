"""Ways that others use, across a trench: plates brought and taken away, and what each night over them costs."""

from __future__ import annotations

from scheduler.network.kind import Kind
from scheduler.network.network_draft import NetworkDraft, Place
from scheduler.network.open_records import PricedNights, Way
from scheduler.network.setting import MACHINE, Made, Setting
from scheduler.site.ground import Reach
from scheduler.spoken import count

RENT_AT = "rates: plate_cost_per_night"
TRENCH_LAW = "520 CMR 14.00: what nobody watches is covered, fenced or filled"


def build_ways(setting: Setting, draft: NetworkDraft, made: Made) -> None:
    """Make what goes with each way: the work with its plates, and the price of its nights."""
    for reach in setting.site.reaches:
        if reach.access is not None:
            plates = setting.plates.get(reach.id)
            nights = _fenced(setting, made, reach) if reach.access.at_night == "fenced" else ()
            if plates is not None:
                nights = (_bring_and_take(setting, draft, made, reach, plates.count),)
            draft.ways.append(
                Way(
                    f"way/{reach.id}",
                    reach.access.what,
                    reach.id,
                    reach.access.closed_only,
                    reach.access.at_night,
                    nights,
                    0 if plates is None else plates.count,
                    plates is not None and plates.designed,
                )
            )


def _fenced(setting: Setting, made: Made, reach: Reach) -> tuple[PricedNights, ...]:
    """Return what a fence on both sides of each piece costs a night, in whole cents."""
    work = made.reaches[reach.id]
    price = 2 * setting.site.rates.fence_cost_per_ft_night
    return tuple(
        PricedNights(
            work.digs[-1],
            p.covered,
            round(price * p.piece.length_ft, 2),
            f"fence/{p.piece.id}",
            f"Fence on both sides, {setting.where(p.piece)}",
            "rates: fence_cost_per_ft_night",
        )
        for p in work.pieces
        if price > 0
    )


def _bring_and_take(setting: Setting, draft: NetworkDraft, made: Made, reach: Reach, plates: int) -> PricedNights:
    """Make the delivery of plates, before the dig, and their return, once all is covered; return their rent."""
    assert reach.access is not None
    rates, work = setting.site.rates, made.reaches[reach.id]
    over = f"{count(plates, 'steel plate')} for {reach.access.what}"
    hours = rates.plate_delivery_hours + plates / rates.plates_per_hour
    source = f"{TRENCH_LAW}; rate {rates.cited('plates_per_hour')}"
    doing = setting.with_machines(reach, "excavator", crew=True, group=MACHINE, in_trench=False)
    place = Place(reach.id, reach.alignment, reach.from_, reach.to)
    brought = draft.add(
        f"{reach.id}/plates",
        f"Bring {over}, {setting.where(reach)}",
        Kind.SITE,
        hours,
        doing,
        because=f"{reach.access.what} is passable outside {reach.access.closed_only}: plates lie over the trench.",
        source=source,
        place=place,
    )
    draft.link(brought, work.digs[-1], because="Plates are there before the way is trenched.")
    taken = draft.add(
        f"{reach.id}/plates-away",
        f"Take away {over}, {setting.where(reach)}",
        Kind.SITE,
        hours,
        doing,
        because="The trench under them is filled.",
        source=source,
        place=place,
    )
    for piece in work.pieces:
        draft.link(piece.covered, taken, because="Plates go once all under them is filled.")
    price = round(plates * rates.plate_cost_per_night, 2)
    return PricedNights(brought, taken, price, f"plates/{reach.id}", over[:1].upper() + over[1:], RENT_AT)
