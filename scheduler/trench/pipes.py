"""Outside diameters of conduit, cable and pipe by material and nominal size."""

from __future__ import annotations

from scheduler.site.ground import Line, Material
from scheduler.units import format_size

IRON_PIPE_SIZE_IN: dict[float, float] = {
    0.5: 0.840,
    0.75: 1.050,
    1.0: 1.315,
    1.25: 1.660,
    1.5: 1.900,
    2.0: 2.375,
    2.5: 2.875,
    3.0: 3.500,
    3.5: 4.000,
    4.0: 4.500,
    5.0: 5.563,
    6.0: 6.625,
    8.0: 8.625,
    10.0: 10.750,
    12.0: 12.750,
}
"""ASME B36.10M / ASTM D1785; PVC conduit (NEMA TC 2), HDPE conduit and PE pipe are made to the same sizes."""

INTERMEDIATE_CONDUIT_IN: dict[float, float] = {
    0.5: 0.815,
    0.75: 1.029,
    1.0: 1.290,
    1.25: 1.638,
    1.5: 1.883,
    2.0: 2.360,
    2.5: 2.857,
    3.0: 3.476,
    3.5: 3.971,
    4.0: 4.466,
}
"""ANSI C80.6, from memory."""

COPPER_TUBE_SIZE_IN: dict[float, float] = {
    0.5: 0.625,
    0.75: 0.875,
    1.0: 1.125,
    1.25: 1.375,
    1.5: 1.625,
    2.0: 2.125,
    2.5: 2.625,
    3.0: 3.125,
    4.0: 4.125,
}
"""ASTM B88: nominal plus 1/8 in; PEX (ASTM F876) is made to the same sizes."""

CAST_IRON_SIZE_IN: dict[float, float] = {
    3.0: 3.96,
    4.0: 4.80,
    6.0: 6.90,
    8.0: 9.05,
    10.0: 11.10,
    12.0: 13.20,
    14.0: 15.30,
    16.0: 17.40,
    18.0: 19.50,
    20.0: 21.60,
    24.0: 25.80,
}
"""AWWA C151; AWWA C900 PVC from 4 in is made to the same sizes."""

SEWER_PVC_IN: dict[float, float] = {4.0: 4.215, 6.0: 6.275, 8.0: 8.400, 10.0: 10.500, 12.0: 12.500, 15.0: 15.300}
"""ASTM D3034 and, for 15 in, ASTM D3034 / F679."""

CLAY_IN: dict[float, float] = {4.0: 5.125, 6.0: 7.375, 8.0: 9.75, 10.0: 12.0, 12.0: 14.375}
"""Barrels of extra-strength vitrified clay, ASTM C700 least walls; rounded, from memory."""

OUTSIDE_DIAMETERS_IN: dict[Material, dict[float, float]] = {
    "pvc40": IRON_PIPE_SIZE_IN,
    "pvc80": IRON_PIPE_SIZE_IN,
    "rmc": IRON_PIPE_SIZE_IN,
    "imc": INTERMEDIATE_CONDUIT_IN,
    "hdpe": IRON_PIPE_SIZE_IN,
    "copper": COPPER_TUBE_SIZE_IN,
    "pex": COPPER_TUBE_SIZE_IN,
    "pe": IRON_PIPE_SIZE_IN,
    "pvc_pressure": {k: v for k, v in IRON_PIPE_SIZE_IN.items() if k < 4.0} | CAST_IRON_SIZE_IN,
    "ductile_iron": CAST_IRON_SIZE_IN,
    "steel": IRON_PIPE_SIZE_IN,
    "pvc_sewer": SEWER_PVC_IN,
    "clay": CLAY_IN,
}

CONDUITS: frozenset[Material] = frozenset({"pvc40", "pvc80", "rmc", "imc", "hdpe"})
PLASTIC_CONDUITS: frozenset[Material] = frozenset({"pvc40", "pvc80", "hdpe"})
PLASTIC_PIPES: frozenset[Material] = frozenset({"pe", "pex", "pvc_pressure", "pvc_sewer", "pvc40", "pvc80", "hdpe"})
WIRED_KINDS = frozenset({"power", "lighting", "communications"})

BANK_GAP_IN = 1.5
"""Between conduits of one bank, so that fill gets in between; common practice (spacers of 1 1/2 in)."""


def outside_diameter_in(material: Material, size_in: float) -> float:
    """Return the outside diameter [in] of a material at a nominal size [in].

    A size between two made sizes is interpolated, one beyond the table grows in proportion.
    For cable without raceway the size given is the outside diameter itself.
    """
    table = OUTSIDE_DIAMETERS_IN.get(material)
    if table is None:
        return size_in
    if size_in in table:
        return table[size_in]
    sizes = sorted(table)
    if size_in < sizes[0]:
        return table[sizes[0]] * size_in / sizes[0]
    if size_in > sizes[-1]:
        return table[sizes[-1]] * size_in / sizes[-1]
    low = max(s for s in sizes if s < size_in)
    high = min(s for s in sizes if s > size_in)
    share = (size_in - low) / (high - low)
    return table[low] + share * (table[high] - table[low])


def size_said(line: Line) -> str:
    """Write the nominal size of a line, in the units told."""
    return format_size(line.size_in, conduit=line.material in CONDUITS)


def run_width_in(line: Line) -> float:
    """Return the overall width [in] of a run: all its conduits side by side, with gaps between."""
    return line.count * outside_diameter_in(line.material, line.size_in) + (line.count - 1) * BANK_GAP_IN


def is_wired(line: Line) -> bool:
    """Tell whether the line carries wires or fibres: power, lighting or communications."""
    return line.kind in WIRED_KINDS
