"""What is hauled away, brought and ordered for a trench: amounts, tons and truck loads, from its quantities."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from scheduler.site.site_record import Site
from scheduler.site.work_rates import WorkRates
from scheduler.trench.along import stretch_within
from scheduler.trench.pipes import size_said
from scheduler.trench.quantities import quantities
from scheduler.trench.section import sections
from scheduler.units import CUBIC_METRES_PER_CUBIC_YARD, METRES_PER_FOOT, cubic_yards, format_inches, metric

POUNDS_PER_TON = 2000.0
TONNES_PER_TON = 0.90718474
"""A short ton of 2000 lb."""
KG_M3_PER_LB_CF = 16.018463
LEAST = 0.005
"""Amounts below this are nothing."""


@dataclass(frozen=True, slots=True)
class Material:
    """One thing to haul away, to bring or to order."""

    name: str
    amount: float
    unit: str
    tons: float | None = None
    """Short tons, or tonnes where metres are told; None where nobody orders it by weight."""
    loads: int | None = None
    """Truck loads, by volume and by weight, whichever is more; None where it needs no truck of its own."""
    by: str = ""
    """How it was reckoned, with its rates."""


def loads_of(*, loose_cy: float, tons: float, rates: WorkRates) -> int:
    """Return the truck loads that loose material takes: as many as its volume or its weight fills."""
    return math.ceil(max(loose_cy / rates.truck_cy, tons / rates.truck_tons) - 1e-9)


def haul_hours(loads: int, rates: WorkRates) -> float:
    """Return the hours in which the trucks haul so many loads: loads x round trip / trucks."""
    return loads * rates.haul_round_trip_minutes / 60.0 / rates.haul_trucks


def materials(site: Site, *, reach: str = "") -> tuple[Material, ...]:
    """Return what a whole site, or one reach of it, hauls away, brings and orders: what comes to more than nothing."""
    earth: dict[str, float] = {}
    feet: dict[str, float] = {}
    reaches = {r.id: r for r in site.reaches if reach in ("", r.id)}
    for here, section in sections(site).items():
        if (ground := reaches.get(here)) is None:
            continue
        q = quantities(site, section, length_ft=ground.to - ground.from_)
        volumes = {"spoil to haul away": q.spoil_over_cy, "fill to bring": q.import_cy, "bedding": q.bedding_cy}
        volumes["select fill over lines"] = sum(q.shading_cy)
        if ground.surface == "asphalt":
            volumes[ground.surface] = cubic_yards(cubic_feet=q.surface_sf * site.rates.asphalt_in / 12.0)
        if ground.surface == "concrete":
            volumes[ground.surface] = cubic_yards(cubic_feet=q.surface_sf * site.rates.concrete_in / 12.0)
        for name, volume in volumes.items():
            earth[name] = earth.get(name, 0.0) + volume
        for line in site.lines:
            length = sum(high - low for low, high in stretch_within(line, ground)) * line.count
            pipe = f"{line.kind}: {size_said(line)} {line.material.replace('_', ' ')}"
            feet[pipe] = feet.get(pipe, 0.0) + length
        feet["warning ribbon"] = feet.get("warning ribbon", 0.0) + q.ribbon_ft
    ordered = [_material(name, amount, site.rates) for name, amount in earth.items()]
    ordered += [Material(name, amount, "ft") for name, amount in feet.items()]
    return tuple(_told(m) for m in ordered if m.amount > LEAST)


def tons_said() -> str:
    """Return what tons are called where the weights of materials are told: short tons, or tonnes of 1000 kg."""
    return "tonnes" if metric() else "tons"


def _told(material: Material) -> Material:
    """Return a material in the units told: cubic metres, metres and tonnes on a site in metres."""
    if not metric():
        return material
    per = CUBIC_METRES_PER_CUBIC_YARD if material.unit.startswith("cu yd") else METRES_PER_FOOT
    unit = material.unit.replace("cu yd", "m3").replace("ft", "m")
    tons = None if material.tons is None else material.tons * TONNES_PER_TON
    return replace(material, amount=material.amount * per, unit=unit, tons=tons)


def _density(lb_per_cf: float) -> str:
    return f"{lb_per_cf * KG_M3_PER_LB_CF:.0f} kg a m3" if metric() else f"{lb_per_cf:g} lb a cu ft"


def _per_volume(tons: float, of: str) -> str:
    """Write what a cubic yard weighs: `1.25 tons a loose cu yd`, or `1.48 tonnes a loose m3`."""
    if metric():
        return f"{tons * TONNES_PER_TON / CUBIC_METRES_PER_CUBIC_YARD:.2f} tonnes a{of} m3"
    return f"{tons:g} tons a{of} cu yd"


def _material(name: str, amount: float, rates: WorkRates) -> Material:
    loose = Material(name, amount, "cu yd loose")
    if name in ("spoil to haul away", "fill to bring"):
        tons = amount * rates.spoil_tons_per_cy
        by = _per_volume(rates.spoil_tons_per_cy, " loose")
        return replace(loose, tons=tons, loads=loads_of(loose_cy=amount, tons=tons, rates=rates), by=by)
    placed = Material(name, amount, "cu yd in place")
    if name == "asphalt":
        tons = amount * 27.0 * rates.asphalt_lb_per_cf / POUNDS_PER_TON
        by = f"{format_inches(rates.asphalt_in)} thick, {_density(rates.asphalt_lb_per_cf)}"
        return replace(placed, tons=tons, loads=loads_of(loose_cy=0.0, tons=tons, rates=rates), by=by)
    if name == "concrete":
        by = f"{format_inches(rates.concrete_in)} thick"
        return replace(placed, loads=loads_of(loose_cy=amount, tons=0.0, rates=rates), by=by)
    tons, swollen = amount * rates.select_tons_per_cy, amount * rates.select_swell
    by = f"{_per_volume(rates.select_tons_per_cy, '')} in place, {rates.select_swell:g} times as much loose"
    return replace(placed, tons=tons, loads=loads_of(loose_cy=swollen, tons=tons, rates=rates), by=by)
