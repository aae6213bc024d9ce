"""What is in the ground and how the trench runs: alignments, reaches, lines, structures."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from scheduler.site.fields import (
    Coordinate,
    Hours,
    Id,
    NominalSize,
    NonNegative,
    Number,
    Positive,
    Record,
    Station,
    Text,
)

LineKind = Literal["power", "lighting", "communications", "water", "reclaimed", "irrigation", "sewer", "storm", "gas"]
Material = Literal[
    "pvc40",
    "pvc80",
    "rmc",
    "imc",
    "hdpe",
    "direct_buried",
    "copper",
    "pex",
    "pe",
    "pvc_pressure",
    "ductile_iron",
    "steel",
    "pvc_sewer",
    "clay",
]
"""Conduit: pvc40, pvc80, rmc, imc, hdpe. Cable without raceway: direct_buried. The rest is pipe."""
Soil = Literal["stable_rock", "A", "B", "C", "unknown"]
Earth = Literal["sand_gravel", "common_earth", "clay", "blasted_rock"]
Surface = Literal["bare", "turf", "gravel", "asphalt", "concrete"]
Place = Literal["yard", "residential_drive", "street", "under_slab", "under_building"]
Shell = Literal["none", "concrete", "slurry", "cap", "plate", "sleeve", "casing"]
"""Concrete, slurry: all round the line; cap, plate: over it; sleeve, casing: a wider pipe."""


class Branch(Record):
    """Where an alignment leaves another."""

    alignment: Id
    """The one that is left."""
    station: Station
    """Where along that one."""


class Alignment(Record):
    """A line on the ground along which stations are counted, from 0+00."""

    id: Id
    name: Text
    length_ft: Positive
    """From 0+00 to its end."""
    leaves: Branch | None = None
    """For a branch: where it begins on another alignment."""
    path: list[tuple[Coordinate, Coordinate]] | None = None
    """Plan coordinates [ft] of its bends, first at 0+00; for the plan sketch only."""
    locate_not_needed: Text | None = None
    """Why no locate ticket is asked for along it; None: one must cover it before anybody digs."""


class Access(Record):
    """A surface others use, which may be closed only at given hours."""

    what: Text
    """Such as a drive or a gate."""
    closed_only: Hours
    """The only hours, each working day, in which the trench may block it. Work in the trench keeps to them."""
    at_night: Literal["plated", "filled", "fenced"] = "plated"
    """What becomes of the trench outside these hours. plated: steel plates or a bridge lie over it, lifted when the
    hours begin and set again before they end. filled: it is dug and filled inside the hours of one day. fenced: it is
    agreed that nobody passes until it is filled; it is fenced and lit."""
    width_ft: Positive | None = None
    """Of the way, along the trench; None: as long as the reach."""


class Reach(Record):
    """The trench between two stations of an alignment."""

    id: Id
    alignment: Id
    from_: Station = Field(alias="from")
    to: Station
    bottom_width_in: Positive | None = None
    """None: the width the lines and the bucket need."""
    depth_in: Positive | None = None
    """None: the depth the cover, bedding and frost need."""
    soil: Soil = "unknown"
    """As the competent person classified it (29 CFR 1926 Subpart P); unknown counts as the weakest."""
    earth: Earth = "common_earth"
    """How it digs, swells and shrinks; it decides quantities and hours."""
    surface: Surface = "turf"
    """What is cut before digging and restored after."""
    place: Place = "yard"
    """What lies above; it decides the least cover."""
    access: Access | None = None
    groundwater: bool = False
    """Water stands or seeps in: pumps are set, and the soil counts as weaker."""
    previously_disturbed: bool = False
    """Dug before: soil of type A counts as B."""
    spoil: Literal["left", "right", "haul"] = "right"
    """The side of the trench on which spoil lies, seen along rising stations; or hauled away."""
    spoil_room_ft: Positive | None = None
    """Clear ground from the trench edge on the spoil side; None: plenty."""


class ExistingLine(Record):
    """A line already in the ground, marked under the locate ticket, that the trench crosses."""

    id: Id
    kind: LineKind
    owner: Text = "unknown"
    alignment: Id
    station: Station
    depth_in: Positive | None = None
    """To its top."""
    size_in: Positive = 2.0
    """Across."""


class Stretch(Record):
    """Part of an alignment."""

    alignment: Id
    from_: Station = Field(alias="from")
    to: Station


class Bend(Record):
    """A bend in a conduit at a station of its route."""

    alignment: Id
    station: Station
    degrees: Annotated[float, Field(gt=0, le=90)]
    radius_in: Positive = 24.0
    """To the centre of the conduit."""
    vertical: bool = False
    """A sweep up out of the trench, as at a riser."""
    factory: bool = True
    """Made in a factory, not swept in the field."""
    material: Material | None = None
    """Of the elbow; None: that of its line."""


class Conductors(Record):
    """Equal conductors in one conduit."""

    count: Annotated[int, Field(ge=1, le=200)]
    """In one conduit."""
    size: Text
    """AWG or kcmil as in the tables: '12', '4/0', '350'."""
    insulation: Literal["THHN", "XHHW"] = "THHN"


class LineTest(Record):
    """A test before cover: pressure on a pipe, a mandrel through a conduit."""

    kind: Literal["pressure", "mandrel", "continuity", "leak"]
    """Pressure or leak: a pipe; mandrel: a conduit; continuity: a wire."""
    set_up_hours: Positive = 0.5
    """Work before the test is held."""
    hold_hours: NonNegative = 0.25
    """Elapsed time the test is held before it counts."""
    over: Literal["reach", "line"] | None = None
    """What a pressure or leak test is made over. None: the whole line at once, in as few parts as can stand open
    together; a joint between two parts is under no test and is checked by itself. line: the whole line whatever stands
    open. reach: each reach by itself, capped at both ends, so that its joints to the next are under no test."""
    pressure_psi: Positive | None = None
    """At which a pressure or leak test is held."""


class Encasement(Stretch):
    """A stretch along which a line lies in concrete, under a cap or plate, or in a wider pipe."""

    shell: Shell
    """Concrete or slurry all round it, a cap or plate over it, a sleeve or casing round it."""
    thickness_in: Positive | None = None
    """Of the concrete, cap or plate, on each side that it covers."""


class Joint(Record):
    """How a line joins another where one of its ends meets it."""

    line: Id
    """The one it joins."""
    kind: Literal["tee", "wye", "tap", "splice", "run_in"] | None = None
    """None: a wye for sewer and storm, a tap for a service of water or gas and a tee for other pipe, a splice for cable
    without conduit, and conduit run in beside the other for the rest."""
    hours: Positive | None = None
    """Work of its own for the trade of the line; None: part of laying it."""


class Line(Record):
    """One utility run: a conduit bank, cable or pipe laid along a route."""

    id: Id
    name: Text
    kind: LineKind
    """What it carries; most rules go by it."""
    owner: Text = "customer"
    """'customer' or the utility's name."""
    trade: Id
    """The trade that lays it."""
    material: Material
    """Conduit: pvc40, pvc80, rmc, imc, hdpe. Cable without raceway: direct_buried. The rest is pipe."""
    size_in: NominalSize
    """Nominal (trade) size."""
    count: Annotated[int, Field(ge=1, le=24)] = 1
    """Conduits or pipes side by side in this run."""
    use: Literal["service", "feeder", "branch", "lighting", "main", "lateral", "spare"] = "feeder"
    """What it is for; some rules go by it."""
    route: Annotated[list[Stretch], Field(min_length=1, max_length=200)]
    """The stretches it runs through, one after the other."""
    offset_in: Number | None = None
    """Centre from the trench centreline, right of rising stations positive; None: suggested."""
    cover_in: Positive | None = None
    """Soil over its top; None: the least its rules allow."""
    voltage_v: NonNegative | None = None
    """Between phases; it decides the cover of power and lighting."""
    amperes: Positive | None = None
    """What the service or feeder is rated for [A]; sheets ask for size by it."""
    gfci_20a: bool = False
    """A dwelling branch circuit of at most 120 V and 20 A with ground-fault protection."""
    bends: list[Bend] = []
    conductors: list[Conductors] = []
    """What is pulled into the conduit; its fill is judged by it."""
    feeds: str = ""
    """What it serves at its far end, told beside its section."""
    joins: list[Joint] | None = None
    """What it joins at its ends; empty: nothing. None: where it begins at the beginning of a branch of the trench, the
    line of its kind that passes there."""
    stub: bool = False
    """Left for later: its end is capped, marked and recorded before cover. A spare conduit is, at both ends."""
    pull_string: bool | None = None
    """None: yes in every conduit without conductors."""
    pull_line_lb: Positive | None = None
    """Strength of the pull line left in it [lb]."""
    tracer_wire_awg: Annotated[int, Field(ge=6, le=24)] | None = None
    """Size of the wire by which plastic pipe is found again."""
    warning_ribbon: bool | None = None
    """None: as the rules ask."""
    shelf: bool = False
    """A pipe on a solid shelf of undisturbed ground beside the trench bottom."""
    protected_crossing: bool = False
    """Sleeved or otherwise protected where it crosses other lines."""
    test: LineTest | None = None
    """Made before cover."""
    joint_cure_hours: NonNegative = 0.0
    """Elapsed time solvent or fused joints need before test or load."""
    feet_per_hour: Positive | None = None
    """Its own laying rate for one crew; None: the trade's."""
    encased: list[Encasement] = []
    """Where it lies in concrete, under a cap, or in a wider pipe; bare in the ground elsewhere."""

    def encased_at(self, alignment: str, station_ft: float) -> Encasement | None:
        """Return what a line lies in at a station of its route, or None where it lies bare."""
        for part in self.encased:
            low, high = sorted((part.from_, part.to))
            if part.alignment == alignment and low <= station_ft <= high:
                return part
        return None

    def shell_at(self, alignment: str, station_ft: float) -> Shell:
        """Return the shell round or over a line at a station; 'none' where it lies bare."""
        part = self.encased_at(alignment, station_ft)
        return part.shell if part else "none"


class Structure(Record):
    """A box, riser, panel, pole or other thing at a station, or beside it."""

    id: Id
    kind: Literal[
        "pull_box",
        "handhole",
        "riser",
        "panel",
        "pole",
        "pedestal",
        "hydrant",
        "pad",
        "vault",
        "meter",
        "valve_box",
        "stub",
        "manhole",
        "light",
        "gate",
        "cleanout",
        "marker",
    ]
    name: Text
    alignment: Id
    station: Station
    trade: Id | None = None
    """Who sets it; None: it is there already."""
    lines: list[Id] = []
    """Lines that end at it or pass through it."""
    set_hours: Positive = 1.0
    """To set it."""
    size_in: tuple[Positive, Positive] | None = None
    """Width and length of a box [in]."""
    exposed: bool = False
    """A riser in reach of vehicles or tools."""
    riser_material: Material | None = None
    """Above grade; None: that of its line."""
    riser_height_ft: Positive | None = None
    """To which it is protected above grade."""
    slip_joint: bool = False
    """Something lets the conduit slip: an expansion fitting or a slip joint."""
    exposed_run_ft: Positive | None = None
    """Straight exposed run of conduit, for thermal movement."""
    temperature_change_f: Positive | None = None
    """Of the exposed run, from its coldest to its hottest."""
    wrap_mil: Positive | None = None
    """Tape wrap on galvanised conduit below grade."""
    gravel_pocket: bool = False
    """A hydrant has gravel to drain into."""
    conduit_gap_in: Positive | None = None
    """Between conduit ends in a box."""


class KeepOpen(Record):
    """A stretch that stays uncovered until somebody's event has happened."""

    id: Id
    alignment: Id
    from_: Station = Field(alias="from")
    to: Station
    until: Id
    """The outside work that must be done first."""
    because: Text
    """Told with every reason that comes of it."""
    released_by: Id | None = None
    """A person or authority."""
    structure: Id | None = None
    """At which it is; how long it must be is judged by that."""
    guarded: Text | None = None
    """How it is guarded when its line is energised before it is covered; None: it is covered first."""
