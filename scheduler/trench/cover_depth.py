"""The least cover of a line at a place, with the table that asks for it."""

from __future__ import annotations

from scheduler.site.ground import Line, Reach
from scheduler.trench.book import Book
from scheduler.trench.pipes import CONDUITS, PLASTIC_CONDUITS
from scheduler.trench.rule import Value
from scheduler.trench.rules.cover_rules import (
    HOUSE_GAS_IN,
    NEC_CITED,
    NEC_COVER_IN,
    NEC_OVER_1000_CITED,
    NEC_OVER_1000_V,
    NESC_CITED,
    NESC_COVER_IN,
    SLAB_RACEWAY_IN,
    UTILITY_GAS_IN,
    Column,
)
from scheduler.units import format_inches

CUSTOMER = "customer"


def wiring_column(line: Line) -> Column:
    """Return the column of the cover table that the line's wiring belongs to."""
    if line.material in PLASTIC_CONDUITS:
        return "plastic"
    return "metal" if line.material in CONDUITS else "direct"


def premises_cover_in(line: Line, reach: Reach) -> tuple[float, str]:
    """Return the cover of wiring on premises [in] and its source (NFPA 70).

    Columns 4 and 5 (a protected dwelling branch circuit; 30 V and less) count beside the
    wiring's own column, whichever asks for less.
    """
    volts = line.voltage_v or 0.0
    column = wiring_column(line)
    if volts > 1000:
        row = next(r for limit, r in NEC_OVER_1000_V if volts <= limit)
        roads = 24.0 if reach.place in ("street", "residential_drive") else 0.0
        return max(row[column], roads), NEC_OVER_1000_CITED
    table = NEC_COVER_IN[reach.place]
    inches = [table[column]]
    in_slab = reach.place == "under_slab" and line.material in CONDUITS
    if line.gfci_20a and volts <= 120:
        inches.append(SLAB_RACEWAY_IN if in_slab else table["dwelling_branch"])
    if line.voltage_v is not None and volts <= 30:
        inches.append(SLAB_RACEWAY_IN if in_slab else table["low_voltage"])
    return min(inches), NEC_CITED


def _power_cover(line: Line, reach: Reach) -> tuple[float, str]:
    if line.owner == CUSTOMER:
        return premises_cover_in(line, reach)
    volts = line.voltage_v or 600.0
    return next(inches for limit, inches in NESC_COVER_IN if volts <= limit), NESC_CITED


def _gas_cover(line: Line, reach: Reach) -> tuple[float, str]:
    if line.owner == CUSTOMER:
        if line.use == "branch":
            return HOUSE_GAS_IN["single_appliance"], "IFGC 404.12.1, 2021"
        return HOUSE_GAS_IN["any"], "IFGC 404.12, 2021"
    if line.use == "main":
        return UTILITY_GAS_IN["main"], "49 CFR 192.327(b)"
    key = "service_in_street" if reach.place == "street" else "service"
    return UTILITY_GAS_IN[key], "49 CFR 192.361(a)"


def least_cover(book: Book, line: Line, reach: Reach, *, at: float | None = None) -> Value:
    """Return the least soil over a line in a reach [in] and its source.

    Wiring on premises follows NFPA 70, a utility's own lines IEEE C2; water lies below frost
    (an unknown frost depth counts as none here and is a finding of its own). `at` is a station [ft], for
    sheets that speak of a part of the run.
    """
    rule = f"cover-{line.kind}"
    if line.kind in ("power", "lighting"):
        inches, source = _power_cover(line, reach)
        return book.get(rule, reach=reach, lines=[line], at=at, built_in=inches, source=source)
    if line.kind == "gas":
        inches, source = _gas_cover(line, reach)
        return book.get(rule, reach=reach, lines=[line], at=at, built_in=inches, source=source)
    value = book.get(rule, reach=reach, lines=[line], at=at)
    if line.kind not in ("water", "reclaimed") or not book.frost_depth_in:
        return value
    below = book.get("frost-below", reach=reach, lines=[line], at=at)
    frozen = book.frost_depth_in + below.value
    if frozen <= value.value:
        return value
    source = f"{below.source}; frost depth {format_inches(book.frost_depth_in)} given by the site"
    return Value(rule=rule, value=frozen, source=source, built_in=value.built_in, local=value.local)


def cover_parts(book: Book, line: Line, reach: Reach) -> list[tuple[float, float, Value]]:
    """Return the least cover of a line in a reach by its parts, each from and to [ft]; one part where it is one."""
    parts = book.parts((f"cover-{line.kind}", "cover-most"), line, reach)
    return [(a, b, least_cover(book, line, reach, at=(a + b) / 2.0)) for a, b in parts]
