"""What the trench functions return: sections and quantities, in inches, feet and cubic yards."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PlacedLine:
    """One line as it lies in a reach; depths are from finished grade, downwards [in]."""

    line: str
    x_in: float
    """Centre of the run from the trench centreline, right of rising stations positive."""
    width_in: float
    """Overall width of the run: one diameter, or the whole bank of conduits."""
    outside_in: float
    """Outside diameter of one conduit or pipe."""
    top_in: float
    bottom_in: float
    layer: int


@dataclass(frozen=True, slots=True)
class Layer:
    """Lines laid at one level and covered together; index 0 is the lowest."""

    index: int
    lines: tuple[str, ...]
    bottom_in: float
    """Underside of its lowest line [in below grade]."""
    top_in: float
    """Top of its highest line [in below grade]."""
    shaded_to_in: float
    """Top of its shading [in below grade]."""


@dataclass(frozen=True, slots=True)
class Shelf:
    """A ledge of undisturbed ground on one side of the trench, on which a pipe lies.

    Below `depth_in` the trench on that side reaches only to the ledge's inner edge.
    """

    line: str
    """The pipe on it."""
    side: str
    """'left' or 'right'."""
    inner_in: float
    """Its inner edge from the centreline, towards that side; negative beyond the centreline."""
    depth_in: float
    """Ledge below grade, bedding included."""


@dataclass(frozen=True, slots=True)
class Section:
    """The cross-section of one reach."""

    reach: str
    length_ft: float
    depth_in: float
    """Trench bottom below grade, bedding included."""
    bottom_width_in: float
    top_width_ft: float
    slope: float
    """Horizontal run per unit of rise of each side; 0 is vertical."""
    protection: str
    """'none', 'sloped', 'shield', 'rock' or 'engineer'."""
    bedding_in: float
    layers: tuple[Layer, ...]
    placed: tuple[PlacedLine, ...]
    ribbons_in: tuple[float, ...]
    """Depths of warning ribbons below grade."""
    ladders: int
    spoil_base_ft: float
    width_governed_by: str
    depth_governed_by: str
    width_needed_in: float = 0.0
    """Least bottom width for the lines, people and bucket; more than bottom_width_in is a fault."""
    depth_needed_in: float = 0.0
    soil: str = "unknown"
    """The soil type worked by, after disturbance and groundwater."""
    wall_in: float = 0.0
    """Taken by the wall of a shield, each side; 0 where none stands."""
    shelves: tuple[Shelf, ...] = ()
    spoil_fits: bool = True
    suggested: tuple[str, ...] = ()
    """Lines whose place was suggested because the site gives none."""

    @property
    def clear_width_in(self) -> float:
        """Width at the bottom that the walls of a shield leave for people and lines [in]."""
        return self.bottom_width_in - 2 * self.wall_in


@dataclass(frozen=True, slots=True)
class Quantities:
    """Amounts for one stretch of trench of `length_ft`."""

    length_ft: float
    surface_sf: float
    bank_cy: float
    loose_cy: float
    hand_bank_cy: float
    """Part of bank_cy to be dug by hand or vacuum in tolerance zones."""
    bedding_cy: float
    shading_cy: tuple[float, ...]
    """Select fill of each layer, lowest first, haunching included."""
    fill_cy: float
    """Native fill above the last shading, compacted in place."""
    lifts: int
    spoil_over_cy: float
    """Loose spoil left over to haul away."""
    ribbon_ft: float
    ladders: int
    fill_above_cy: tuple[float, ...] = ()
    """Parts of fill_cy above each layer's shading, lowest layer first; the last reaches grade."""
    lifts_above: tuple[int, ...] = ()
    """Parts of lifts, in the same order."""
    import_cy: float = 0.0
    """Loose fill to bring in where the trench's own spoil does not suffice or was hauled away."""
