"""WorkRates that turn quantities into hours; each may be given anew in the site file."""

from __future__ import annotations

from scheduler.site.fields import NonNegative, Positive, Record, Share
from scheduler.site.ground import LineKind

SITE_FILE = "site file"
_SOURCE = "Source: "


class WorkRates(Record):
    """How fast a small crew works, where no trade, machine or line says it of itself."""

    lay_power_ft_per_hour: Positive = 40.0
    """Feet of one power conduit or cable that a crew lays. Source: common practice."""
    lay_lighting_ft_per_hour: Positive = 45.0
    """Feet of one lighting conduit that a crew lays. Source: common practice."""
    lay_communications_ft_per_hour: Positive = 50.0
    """Feet of one communications conduit that a crew lays. Source: common practice."""
    lay_water_ft_per_hour: Positive = 30.0
    """Feet of water pipe that a crew lays. Source: common practice."""
    lay_reclaimed_ft_per_hour: Positive = 30.0
    """Feet of reclaimed water pipe that a crew lays. Source: common practice."""
    lay_irrigation_ft_per_hour: Positive = 60.0
    """Feet of irrigation pipe that a crew lays. Source: common practice."""
    lay_sewer_ft_per_hour: Positive = 20.0
    """Feet of sewer that a crew lays to grade. Source: common practice."""
    lay_storm_ft_per_hour: Positive = 15.0
    """Feet of storm drain that a crew lays to grade. Source: common practice."""
    lay_gas_ft_per_hour: Positive = 40.0
    """Feet of gas pipe that a crew lays. Source: common practice."""
    each_further_conduit: Share = 0.5
    """Share of the first conduit's time that each further one of a bank takes. Source: common practice."""
    protect_ft_per_hour: Positive = 30.0
    """Trench in which the machine sets shields. Source: common practice."""
    pump_set_up_hours: NonNegative = 1.0
    """Pumps and a sump set for one reach. Source: common practice."""
    pothole_hours: Positive = 0.5
    """The least to expose one marked line by hand or vacuum. Source: common practice."""
    bed_cy_per_hour: Positive = 5.0
    """Bedding placed and levelled by a crew. Source: common practice."""
    ribbon_ft_per_hour: Positive = 400.0
    """Warning ribbon rolled out. Source: common practice."""
    cap_hours: Positive = 0.5
    """To cap, tape and label one stub. Source: common practice."""
    prove_set_up_hours: NonNegative = 0.5
    """To make ready for a mandrel or a pull string in one run of conduit. Source: common practice."""
    prove_ft_per_hour: Positive = 200.0
    """Conduit through which a mandrel and a pull string are drawn. Source: common practice."""
    pull_set_up_hours: NonNegative = 1.0
    """To make ready for one pull of conductors. Source: common practice."""
    pull_ft_per_hour: Positive = 120.0
    """Conductors drawn into one run of conduit. Source: common practice."""

    def laying(self, kind: LineKind) -> tuple[float, str]:
        """Return the feet of one line of a kind that a crew lays in an hour, and where the rate comes from."""
        name = f"lay_{kind}_ft_per_hour"
        return getattr(self, name), self.cited(name)

    def cited(self, name: str) -> str:
        """Return where a rate comes from: its published source, or the site file where that gives another value."""
        if getattr(self, name) != type(self).model_fields[name].default:
            return f"{SITE_FILE}: rates, {name}"
        return source_of(name)


def source_of(name: str) -> str:
    """Return the source of a rate's default, as its description ends with it."""
    told = WorkRates.model_fields[name].description or ""
    return " ".join(told.partition(_SOURCE)[2].split()).removesuffix(".")


def sentence_of(name: str) -> str:
    """Return what a rate says, without its source."""
    return " ".join((WorkRates.model_fields[name].description or "").partition(_SOURCE)[0].split())
