"""Conduit: bends, sweeps, pulls, boxes, fill, thermal movement, risers."""

from __future__ import annotations

from scheduler.findings import Severity
from scheduler.site.ground import Material
from scheduler.trench.rule import LayoutRule

FILL_LIMITS: dict[int, float] = {1: 0.53, 2: 0.31, 3: 0.40}
"""NFPA 70 Chapter 9 Table 1: share of the inside area by number of conductors; 3 stands for more than two."""

INSIDE_AREA_SQ_IN: dict[Material, dict[float, float]] = {
    "pvc40": {
        0.5: 0.285, 0.75: 0.508, 1.0: 0.832, 1.25: 1.453, 1.5: 1.986, 2.0: 3.291, 2.5: 4.695, 3.0: 7.268,
        3.5: 9.737, 4.0: 12.554, 5.0: 19.761, 6.0: 28.567,
    },
    "pvc80": {
        0.5: 0.217, 0.75: 0.409, 1.0: 0.688, 1.25: 1.237, 1.5: 1.711, 2.0: 2.874, 2.5: 4.119, 3.0: 6.442,
        3.5: 8.688, 4.0: 11.258, 5.0: 17.855, 6.0: 25.598,
    },
    "rmc": {
        0.5: 0.314, 0.75: 0.549, 1.0: 0.887, 1.25: 1.526, 1.5: 2.071, 2.0: 3.408, 2.5: 4.866, 3.0: 7.499,
        3.5: 10.010, 4.0: 12.882, 5.0: 20.212, 6.0: 29.158,
    },
    "imc": {
        0.5: 0.342, 0.75: 0.586, 1.0: 0.959, 1.25: 1.647, 1.5: 2.225, 2.0: 3.630, 2.5: 5.135, 3.0: 7.922,
        3.5: 10.584, 4.0: 13.631,
    },
}  # fmt: skip
"""NFPA 70 Chapter 9 Table 4, total area. Schedule 40 and HDPE share one table. 1 to 4 in of Schedule 40
verified against inside diameters; the rest from memory."""

CONDUCTOR_SQ_IN: dict[str, dict[str, float]] = {
    "THHN": {
        "14": 0.0097, "12": 0.0133, "10": 0.0211, "8": 0.0366, "6": 0.0507, "4": 0.0824, "3": 0.0973, "2": 0.1158,
        "1": 0.1562, "1/0": 0.1855, "2/0": 0.2223, "3/0": 0.2679, "4/0": 0.3237, "250": 0.3970, "300": 0.4608,
        "350": 0.5242, "400": 0.5863, "500": 0.7073, "600": 0.8676, "750": 1.0496,
    },
    "XHHW": {
        "14": 0.0139, "12": 0.0181, "10": 0.0243, "8": 0.0437, "6": 0.0590, "4": 0.0814, "3": 0.0962, "2": 0.1146,
        "1": 0.1534, "1/0": 0.1825, "2/0": 0.2190, "3/0": 0.2642, "4/0": 0.3197, "250": 0.3904, "300": 0.4536,
        "350": 0.5166, "400": 0.5782, "500": 0.6984, "600": 0.8709, "750": 1.0532,
    },
}  # fmt: skip
"""NFPA 70 Chapter 9 Table 5, conductor with insulation; THHN stands for THWN too. 3, 1, 3/0 XHHW and 300, 400,
600, 750 kcmil from memory."""

ONE_SHOT_RADIUS_IN: dict[float, float] = {
    0.5: 4.0, 0.75: 4.5, 1.0: 5.75, 1.25: 7.25, 1.5: 8.25, 2.0: 9.5, 2.5: 10.5, 3.0: 13.0, 3.5: 15.0, 4.0: 16.0,
    5.0: 24.0, 6.0: 30.0,
}  # fmt: skip
"""NFPA 70 Chapter 9 Table 2, one-shot and full-shoe benders, to the centreline: factory bends are held to these."""

FIELD_RADIUS_IN: dict[float, float] = {
    0.5: 4.0, 0.75: 5.0, 1.0: 6.0, 1.25: 8.0, 1.5: 10.0, 2.0: 12.0, 2.5: 15.0, 3.0: 18.0, 3.5: 21.0, 4.0: 24.0,
    5.0: 30.0, 6.0: 36.0,
}  # fmt: skip
"""The same table, other bends; from memory."""

PVC_EXPANSION_PER_F = 3.38e-5
"""NFPA 70 Table 352.44 heading [in/in per degree F]."""

PULL_LENGTH_FT: dict[str, float] = {"heavy": 200, "light": 300, "communications": 400}
"""Between pull points, by common practice; heavy is conduit of 2 in and more."""
HEAVY_FROM_IN = 2.0

RISER_MATERIALS: tuple[Material, ...] = ("pvc80", "rmc", "imc")
"""NFPA 70 300.5(D)(4): where exposed to damage."""

RULES: tuple[LayoutRule, ...] = (
    LayoutRule(
        "bends-total",
        "Bends between two pull points add up to no more than this.",
        "NFPA 70 352.26 for PVC, 344.26 and 342.26 for steel",
        "2020 numbering",
        "verified",
        default=360,
        unit="degrees",
        sense="at most",
        remedy="Set a pull box between, or run straighter.",
    ),
    LayoutRule(
        "no-factory-bends",
        "No factory bend lies below grade.",
        "local sheet",
        "",
        "local",
        sense="is",
        form="yes",
        remedy="Use a field sweep or a long straight run instead.",
        along=True,
    ),
    LayoutRule(
        "sweep-radius",
        "A bend is at least this wide, measured to the centre of the conduit.",
        "NFPA 70 Chapter 9 Table 2",
        "2020",
        "verified",
        unit="in",
        remedy="Use a wider sweep.",
        along=True,
        by_size=True,
    ),
    LayoutRule(
        "sweep-depth",
        "A sweep up out of the trench ends at or below grade, so that the conduit stands straight where it emerges.",
        "geometry",
        "",
        "common practice",
        unit="in",
        local=False,
        remedy="Use a tighter sweep, or lay the conduit deeper there.",
    ),
    LayoutRule(
        "pull-length",
        "Pull points lie no farther apart than this along the conduit.",
        "common practice",
        "",
        "common practice",
        unit="ft",
        sense="at most",
        remedy="Set a pull box between.",
    ),
    LayoutRule(
        "pull-tension",
        "Pulling copper conductors in from the better end takes no more than they bear: 0.008 lb a circular mil.",
        "Southwire, wire and cable pulling tensions, table 1",
        "",
        "verified",
        unit="lb",
        sense="at most",
        remedy="Set a pull box between, or use wider or fewer bends.",
        field="conductors",
    ),
    LayoutRule(
        "sidewall-pressure",
        "Conductors pulled round a bend press against its inside no harder than this.",
        "IEWC technical guide on pulling tensions, after a study for ICEA",
        "",
        "verified",
        default=300,
        unit="lb/ft",
        sense="at most",
        remedy="Use a wider bend, or set a pull box before it.",
    ),
    LayoutRule(
        "pull-string",
        "An empty conduit has a pull line in it.",
        "common practice",
        "",
        "common practice",
        sense="is",
        form="yes",
        remedy="Leave a pull line in it and write `pull_string: true`.",
        field="pull_string",
    ),
    LayoutRule(
        "pull-line-strength",
        "The pull line is at least this strong.",
        "local sheet",
        "",
        "local",
        unit="lb",
        remedy="Leave a stronger pull line in it and write `pull_line_lb`.",
        field="pull_line_lb",
    ),
    LayoutRule(
        "box-length",
        "A box for a straight pull is at least this many times as long as its widest conduit.",
        "NFPA 70 314.28(A)(1), by 314.30(A) for handholes",
        "2020",
        "verified",
        default=8,
        unit="times",
        remedy="Use a longer box.",
        field="size_in",
    ),
    LayoutRule(
        "box-gap",
        "Conduit ends in a box lie at least this far apart.",
        "local sheet",
        "",
        "local",
        unit="in",
        remedy="Set the conduit ends farther apart, or use a longer box.",
        field="conduit_gap_in",
    ),
    LayoutRule(
        "box-gap-fits",
        "The distance between conduit ends fits in the box.",
        "geometry",
        "",
        "common practice",
        unit="in",
        sense="at most",
        local=False,
        remedy="Use a longer box, or let the conduits reach farther in.",
        field="conduit_gap_in",
    ),
    LayoutRule(
        "conduit-fill",
        "Conductors fill no more than this share of the conduit.",
        "NFPA 70 Chapter 9 Tables 1, 4 and 5",
        "2008 to 2020",
        "verified",
        unit="%",
        sense="at most",
        severity=Severity.STOP,
        remedy="Use a larger conduit, or fewer or smaller conductors.",
    ),
    LayoutRule(
        "conduit-size-known",
        "Conduit and conductor sizes are in the tables, so that the fill can be checked.",
        "NFPA 70 Chapter 9 Tables 4 and 5",
        "2020",
        "verified",
        sense="is",
        local=False,
        remedy="Write the trade size of the conduit, and conductors as '12', '4/0' or '350'.",
    ),
    LayoutRule(
        "conduit-material",
        "Conduit below grade is of a material allowed here.",
        "local sheet",
        "",
        "local",
        sense="one of",
        form="materials",
        remedy="Change the material.",
        field="material",
    ),
    LayoutRule(
        "thermal-movement",
        "Exposed plastic conduit that grows or shrinks by this much has an expansion fitting.",
        "NFPA 70 352.44",
        "2008 and later",
        "verified",
        default=0.25,
        unit="in",
        sense="at most",
        remedy="Fit an expansion coupling and write `slip_joint: true`.",
        field="slip_joint",
    ),
    LayoutRule(
        "riser-movement",
        "A riser out of ground that freezes can slip as the ground heaves or settles.",
        "NFPA 70 300.5(J)",
        "2014 and later",
        "from memory",
        sense="is",
        form="yes",
        remedy="Fit a slip coupling and write `slip_joint: true`.",
        field="slip_joint",
    ),
    LayoutRule(
        "riser-material",
        "A riser in reach of vehicles or tools is of a material that withstands them.",
        "NFPA 70 300.5(D)(4)",
        "2014 and later",
        "from memory",
        sense="one of",
        form="materials",
        severity=Severity.STOP,
        remedy="Use Schedule 80 PVC or steel conduit above grade.",
        field="riser_material",
    ),
    LayoutRule(
        "riser-height",
        "An exposed riser is protected to this height above grade.",
        "NFPA 70 300.5(D)(1)",
        "2014 and later",
        "verified",
        default=8,
        unit="ft",
        remedy="Carry the conduit higher.",
        field="riser_height_ft",
    ),
    LayoutRule(
        "riser-wrap",
        "Galvanised conduit is wrapped below grade at a riser with tape this thick.",
        "common practice",
        "",
        "common practice",
        default=20,
        unit="mil",
        remedy="Wrap it and write `wrap_mil`.",
        field="wrap_mil",
    ),
)
